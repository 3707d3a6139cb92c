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
    """Add the arguments of the command."""
    add_fill(parser)
    parser.set_defaults(tempo=None)  # so that --tempo next to --ladder can be refused
    add_playing(parser)
    parser.add_argument(
        "--ladder",
        metavar="TEMPOS",
        help='several tempos in one file, each with its count-in: "60..100 step 10", instead of --tempo',
    )
    parser.add_argument(
        "--climb",
        type=int,
        metavar="N",
        help="with --ladder: play on without a stop, N repetitions at each tempo",
    )
    parser.add_argument("--loop", action="store_true", help="write a file that loops without a gap")
    parser.add_argument("--artist", default="", metavar="NAME", help="artist in the file's tags [none]")
    parser.add_argument("--album", default="", metavar="NAME", help="album in the file's tags [none]")
    parser.add_argument(
        "--track", type=int, default=0, metavar="N", help="track number in the file's tags [none]"
    )
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="FILE",
        help="file to write: .wav, .flac, .ogg or .mp3",
    )
    add_sounds(parser)
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Write the file and report its length."""
    from fillwright.lesson.single_fill import make_single_fill
    from fillwright.workbench.play import make_request, make_tags, play_fill, write_audio

    if options.tempo is None:
        options.tempo = TEMPO
    elif options.ladder is not None:
        raise FillwrightError("--tempo and --ladder can't be used together; leave one out.")
    fill = make_single_fill(read_choice(options))
    wish = make_request(
        options.ladder or options.tempo,
        read_playing(options, count_in=0 if options.loop else 1),
        climb=options.climb,
        loop=options.loop,
    )
    played = play_fill(fill, wish, bank=open_bank(options))
    tags = make_tags(played, artist=options.artist, album=options.album, track=options.track)
    write_audio(options.output, played.audio, tags=tags)
    if options.json:
        print_json({"file": str(options.output), **played.describe()})
    elif not options.quiet:
        print(f"{options.output}: {played.title}, at {played.tempos} bpm, {played.audio.seconds:.1f} s")
    return 0
