"""Play one fill in its phrase into an audio file, without a lesson file."""

from __future__ import annotations

import argparse
from fractions import Fraction
from pathlib import Path

from fillwright.cli.options import add_fill, add_reporting, choice, number, print_json
from fillwright.cli.sounding import add_sounds, bank_of


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    add_fill(parser)
    parser.add_argument("--count-in", type=int, default=1, metavar="BARS", help="bars of clicks before it (1)")
    parser.add_argument("--click", choices=("beats", "off"), default="beats", help="click while playing")
    parser.add_argument("--repeats", type=int, default=1, metavar="N", help="times the phrase is played (1)")
    parser.add_argument(
        "--swing",
        type=number,
        default=Fraction(1, 2),
        metavar="PLACE",
        help="where the second eighth falls, 2/3 or 0.6",
    )
    parser.add_argument("--flam-ms", type=float, default=25.0, metavar="MS", help="width of a flam (25)")
    parser.add_argument(
        "-o", "--output", type=Path, required=True, metavar="FILE", help=".wav, .flac, .ogg or .mp3"
    )
    add_sounds(parser)
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Write the file and say how long it is."""
    from fillwright.lesson.recorded import write_audio
    from fillwright.lesson.single import single
    from fillwright.music.timing import read_feel
    from fillwright.sound.options import Click, Options
    from fillwright.sound.playalong import render

    one = single(choice(options))
    how = Options(
        count_in_bars=options.count_in,
        click=Click(options.click),
        repeats=options.repeats,
        feel=read_feel(str(options.swing), options.flam_ms),
    )
    audio = render(one.phrase, options.tempo, how, bank=bank_of(options))
    write_audio(options.output, audio, title=f"{one.title}, {options.tempo}")
    if options.json:
        print_json(
            {
                "file": str(options.output),
                "title": one.title,
                "seconds": audio.seconds,
                "start_seconds": audio.start_seconds,
            }
        )
    elif not options.quiet:
        print(f"{options.output}: {one.title}, at {options.tempo}, {audio.seconds:.1f} s")
    return 0
