"""Play one fill in its phrase into an audio file, without a lesson file."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import (
    TEMPO,
    add_fill,
    add_playing,
    add_reporting,
    add_sounds,
    open_bank,
    print_json,
    read_choice,
    read_playing,
)
from fillwright.errors import FillwrightError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    add_fill(parser)
    parser.set_defaults(tempo=None)  # so that one beside a ladder is noticed
    add_playing(parser)
    parser.add_argument(
        "--ladder",
        metavar="TEMPOS",
        help='several tempos in one file, each with its count-in: "60..100 step 10", instead of --tempo',
    )
    parser.add_argument(
        "--climb", type=int, metavar="N", help="play the ladder without a stop, N times at each tempo"
    )
    parser.add_argument(
        "--loop", action="store_true", help="a file that closes to the sample, to be played round and round"
    )
    parser.add_argument("--artist", default="", metavar="NAME", help="for players to show")
    parser.add_argument("--album", default="", metavar="NAME", help="for players to show")
    parser.add_argument("--track", type=int, default=0, metavar="N", help="number in the album")
    parser.add_argument(
        "-o", "--output", type=Path, required=True, metavar="FILE", help=".wav, .flac, .ogg or .mp3"
    )
    add_sounds(parser)
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Write the file and say how long it is."""
    from fillwright.lesson.single_fill import single
    from fillwright.workbench.play import record, request, tagged, write_audio

    if options.tempo is None:
        options.tempo = TEMPO
    elif options.ladder is not None:
        raise FillwrightError("A ladder says itself which tempos are played; leave out --tempo, or the ladder.")
    one = single(read_choice(options))
    asked = request(
        options.ladder or options.tempo,
        read_playing(options, count_in=0 if options.loop else 1),
        climb=options.climb,
        loop=options.loop,
    )
    made = record(one, asked, bank=open_bank(options))
    tags = tagged(made, artist=options.artist, album=options.album, track=options.track)
    write_audio(options.output, made.audio, tags=tags)
    if options.json:
        print_json({"file": str(options.output), **made.report()})
    elif not options.quiet:
        print(f"{options.output}: {made.title}, at {made.tempos}, {made.audio.seconds:.1f} s")
    return 0
