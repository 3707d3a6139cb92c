"""Count the chains of figures that fill a span exactly; show the best, or fair random ones."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwright.cli.options import add_reporting, add_sounds, number, open_bank, print_json

if TYPE_CHECKING:
    from fillwright.craft.chains.rules import Filling
    from fillwright.workbench.chains import Asked, Chained

_SHOWN = 5


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument(
        "--figure",
        action="append",
        default=[],
        metavar="NAME",
        help="a figure to use; again, or with commas, for more (all 40 rudiments)",
    )
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--beats", type=number, metavar="N", help="the last N beats; 2.5 starts off the beat")
    where.add_argument("--bars", type=int, metavar="N", help="the last N bars, at most 8 (1)")
    parser.add_argument("--meter", default="4/4", metavar="METER", help="meter of the phrase (4/4)")
    _add_rules(parser)
    parser.add_argument("--top", type=int, metavar="K", help=f"show the K best ({_SHOWN})")
    parser.add_argument("--random", type=int, metavar="N", help="show N fair random chains")
    parser.add_argument("--seed", type=int, default=0, metavar="S", help="the same seed, the same chains (0)")
    parser.add_argument(
        "--groove", default="", metavar="NAME", help="the groove before the chain (the meter's first)"
    )
    parser.add_argument("--tempo", type=int, default=80, metavar="BPM", help="beats a minute (80)")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="engrave the first chain as SVG")
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="engrave the first chain as PDF")
    parser.add_argument("--play", type=Path, metavar="FILE", help="play it into a .wav, .flac, .ogg or .mp3")
    add_sounds(parser)
    add_reporting(parser)


def _add_rules(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--no-hands", action="store_true", help="don't tell leads apart, and no rules of hands")
    parser.add_argument(
        "--alternate",
        action=argparse.BooleanOptionalAction,
        default=True,
        help="each turn starts with the hand that did not strike last (yes)",
    )
    parser.add_argument(
        "--repeat-gap", metavar="VALUE", help="a hand may also repeat after a note value, 8, or a time, 1/8"
    )
    parser.add_argument("--lead", choices=("right", "left"), help="hand of the first stroke (either)")
    parser.add_argument("--land", choices=("right", "left"), help="hand that lands (either)")
    parser.add_argument("--most", type=int, metavar="N", help="at most N different figures")
    parser.add_argument("--must", action="append", default=[], metavar="NAME", help="a figure that must appear")
    parser.add_argument(
        "--accents", default="", metavar="PLACES", help='places of the bar to be accented, "1 3"'
    )
    for what in ("rest", "kick"):
        parser.add_argument(
            f"--fill-{what}",
            nargs="?",
            const="16 8 4",
            default="",
            metavar="VALUES",
            help=f"a {what} may fill the remainder, of these note values (16 8 4)",
        )


def run(options: argparse.Namespace) -> int:
    """Count, show what was asked for, and write the files."""
    from fillwright.music.timing import check_tempo
    from fillwright.workbench.chains import chained

    check_tempo(options.tempo)
    made = chained(_asked(options))
    shown: tuple[Filling, ...] = ()
    if options.top is not None or options.random is None:
        shown += made.best(_SHOWN if options.top is None else options.top)
    if options.random is not None:
        shown += made.draw(options.random, options.seed)
    _files(options, made, shown)
    _report(options, made, shown)
    return 0


def _asked(options: argparse.Namespace) -> Asked:
    from fillwright.craft.chains.rules import Rules
    from fillwright.music.stroke import Limb
    from fillwright.workbench.chains import Asked, gap

    hands = {"right": Limb.RIGHT, "left": Limb.LEFT, None: None}
    return Asked(
        figures=_names(options.figure),
        beats=options.beats,
        bars=1 if options.bars is None else options.bars,
        meter=options.meter,
        rules=Rules(
            hands=not options.no_hands,
            alternate=options.alternate,
            repeat_gap=None if options.repeat_gap is None else gap(options.repeat_gap),
            lead=hands[options.lead],
            land=hands[options.land],
            most=options.most,
        ),
        must=_names(options.must),
        accents=options.accents,
        rests=options.fill_rest,
        kicks=options.fill_kick,
    )


def _names(words: list[str]) -> tuple[str, ...]:
    return tuple(name.strip() for word in words for name in word.split(","))


def _files(options: argparse.Namespace, made: Chained, shown: tuple[Filling, ...]) -> None:
    if not (options.svg or options.pdf or options.play):
        return
    from fillwright.atomic import write_whole
    from fillwright.errors import FitError
    from fillwright.workbench.chains import chain_phrase, chain_picture

    if not shown:
        raise FitError(
            f"No chain is there to be seen or heard in {made.words}; drop a rule or ask for more chains."
        )
    played = chain_phrase(made, shown[0], options.groove)
    for path, suffix in ((options.svg, ".svg"), (options.pdf, ".pdf")):
        if path:
            write_whole(path, chain_picture(played, suffix, tempo=options.tempo))
    if options.play:
        from fillwright.sound.files.encode import Tags
        from fillwright.sound.playalong.render import render
        from fillwright.workbench.play import write_audio

        title = ", ".join(reading.figure.name for reading in shown[0].chain.readings)
        audio = render(played, options.tempo, bank=open_bank(options))
        write_audio(options.play, audio, tags=Tags(title=title))


def _report(options: argparse.Namespace, made: Chained, shown: tuple[Filling, ...]) -> None:
    from fillwright.workbench.chains import as_json

    left = made.remainders()
    if options.json:
        rows: dict[str, Any] = {"count": made.space.count, "chains": [as_json(filling) for filling in shown]}
        if left:
            rows["remainders"] = [
                {"sentence": one.sentence, "completed_by": list(made.completed_by(one))} for one in left
            ]
        print_json(rows)
    elif not options.quiet:
        count = made.space.count
        print(f"{count:,} {'chain fills' if count == 1 else 'chains fill'} {made.words}.")
        for filling in shown:
            print(_line(filling))
        for one in left:
            print(f"{one.sentence} What completes it: {'; '.join(made.completed_by(one))}.")


def _line(filling: Filling) -> str:
    from fillwright.workbench.chains import sticking

    turns = [f"{reading.figure.name} in {reading.rhythm_name}" for reading in filling.chain.readings]
    if filling.tail:
        turns.append(filling.tail.words)
    return f"  {' + '.join(turns)}\n    {sticking(filling)}"
