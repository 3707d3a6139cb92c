"""Count the chains of figures that fill a span exactly; show the best or random ones."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwright.cli.options import add_reporting, add_sounds, number, open_bank, print_json

if TYPE_CHECKING:
    from fillwright.craft.chains.rules import Filling
    from fillwright.workbench.chains import ChainRequest, ChainSet

_DEFAULT_COUNT = 5  # chains shown; ours, not measured


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "--figure",
        action="append",
        default=[],
        metavar="NAME",
        help="a figure to use; repeat it, or separate by commas, for more [all 40 rudiments]",
    )
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--beats", type=number, metavar="N", help="the last N beats; 2.5 starts off the beat")
    where.add_argument("--bars", type=int, metavar="N", help="the last N bars, 1 to 8 [1]")
    parser.add_argument("--meter", default="4/4", metavar="METER", help="meter of the phrase [4/4]")
    _add_rules(parser)
    parser.add_argument("--top", type=int, metavar="K", help=f"show the K best chains [{_DEFAULT_COUNT}]")
    parser.add_argument("--random", type=int, metavar="N", help="show N random chains, all equally likely")
    parser.add_argument(
        "--seed", type=int, default=0, metavar="S", help="with --random: number that picks the chains [0]"
    )
    parser.add_argument(
        "--groove", default="", metavar="NAME", help="the groove before the chain [the first of the meter]"
    )
    parser.add_argument("--tempo", type=int, default=80, metavar="BPM", help="tempo in bpm [80]")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="engrave the first chain as SVG")
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="engrave the first chain as PDF")
    parser.add_argument(
        "--play", type=Path, metavar="FILE", help="play the first chain: .wav, .flac, .ogg or .mp3"
    )
    add_sounds(parser)
    add_reporting(parser)


def _add_rules(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--no-hands",
        action="store_true",
        help="count without sticking; --lead, --land and --repeat-gap then don't apply",
    )
    parser.add_argument(
        "--alternate",
        action=argparse.BooleanOptionalAction,
        default=True,
        help="start each figure with the hand that did not strike last [yes]",
    )
    parser.add_argument(
        "--repeat-gap",
        metavar="VALUE",
        help="let a hand repeat after a gap: a note value, 8, or a time, 1/8 [never]",
    )
    parser.add_argument("--lead", choices=("right", "left"), help="hand of the first stroke [either]")
    parser.add_argument("--land", choices=("right", "left"), help="hand that lands [either]")
    parser.add_argument("--most", type=int, metavar="N", help="largest number of different figures [any]")
    parser.add_argument(
        "--must", action="append", default=[], metavar="NAME", help="a figure that every chain must have"
    )
    parser.add_argument(
        "--accents", default="", metavar="PLACES", help='places of the bar that must be accented, such as "1 3"'
    )
    for name in ("rest", "kick"):
        parser.add_argument(
            f"--fill-{name}",
            nargs="?",
            const="16 8 4",
            default="",
            metavar="VALUES",
            help=f"let {name}s of these note values fill what remains [16 8 4]",
        )


def run(options: argparse.Namespace) -> int:
    """Count the chains, write the files and list the chains."""
    from fillwright.music.timing import check_tempo
    from fillwright.workbench.chains import find_chains

    check_tempo(options.tempo)
    chains = find_chains(_make_request(options))
    shown: tuple[Filling, ...] = ()
    if options.top is not None or options.random is None:
        shown += chains.list_best(_DEFAULT_COUNT if options.top is None else options.top)
    if options.random is not None:
        shown += chains.draw(options.random, options.seed)
    _write_files(options, chains, shown)
    _report(options, chains, shown)
    return 0


def _make_request(options: argparse.Namespace) -> ChainRequest:
    from fillwright.craft.chains.rules import Rules
    from fillwright.music.stroke import Limb
    from fillwright.workbench.chains import ChainRequest, parse_gap

    hands = {"right": Limb.RIGHT, "left": Limb.LEFT, None: None}
    return ChainRequest(
        figures=_split_names(options.figure),
        beats=options.beats,
        bars=1 if options.bars is None else options.bars,
        meter=options.meter,
        rules=Rules(
            hands=not options.no_hands,
            alternate=options.alternate,
            repeat_gap=None if options.repeat_gap is None else parse_gap(options.repeat_gap),
            lead=hands[options.lead],
            land=hands[options.land],
            most=options.most,
        ),
        must=_split_names(options.must),
        accents=options.accents,
        rests=options.fill_rest,
        kicks=options.fill_kick,
    )


def _split_names(words: list[str]) -> tuple[str, ...]:
    return tuple(name.strip() for word in words for name in word.split(","))


def _write_files(options: argparse.Namespace, chains: ChainSet, shown: tuple[Filling, ...]) -> None:
    if not (options.svg or options.pdf or options.play):
        return
    from fillwright.atomic import write_file
    from fillwright.errors import FitError
    from fillwright.workbench.chains import build_chain_phrase, draw_chain

    if not shown:
        raise FitError(
            f"There is no chain to draw or play in {chains.words}; leave out a rule or show more chains."
        )
    played = build_chain_phrase(chains, shown[0], options.groove)
    for path, suffix in ((options.svg, ".svg"), (options.pdf, ".pdf")):
        if path:
            write_file(path, draw_chain(played, suffix, tempo=options.tempo))
    if options.play:
        from fillwright.sound.files.encode import Tags
        from fillwright.sound.playalong.render import render
        from fillwright.workbench.play import write_audio

        title = ", ".join(reading.figure.name for reading in shown[0].chain.readings)
        audio = render(played, options.tempo, bank=open_bank(options))
        write_audio(options.play, audio, tags=Tags(title=title))


def _report(options: argparse.Namespace, chains: ChainSet, shown: tuple[Filling, ...]) -> None:
    from fillwright.workbench.chains import describe_chain

    remainders = chains.find_remainders()
    if options.json:
        rows: dict[str, Any] = {
            "count": chains.space.count,
            "chains": [describe_chain(filling) for filling in shown],
        }
        if remainders:
            rows["remainders"] = [
                {"sentence": remainder.sentence, "completed_by": list(chains.list_completions(remainder))}
                for remainder in remainders
            ]
        print_json(rows)
    elif not options.quiet:
        count = chains.space.count
        print(f"{count:,} {'chain fills' if count == 1 else 'chains fill'} {chains.words}.")
        for filling in shown:
            print(_format_chain(filling))
        for remainder in remainders:
            print(f"{remainder.sentence} These complete it: {'; '.join(chains.list_completions(remainder))}.")


def _format_chain(filling: Filling) -> str:
    from fillwright.workbench.chains import format_chain_sticking

    turns = [f"{reading.figure.name} in {reading.rhythm_name}" for reading in filling.chain.readings]
    if filling.tail:
        turns.append(filling.tail.words)
    return f"  {' + '.join(turns)}\n    {format_chain_sticking(filling)}"
