"""Make a film of one fill to lay over a recording: notation, cursor, count-in and sound, as an MP4."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from fillwright.cli.options import (
    add_fill,
    add_playing,
    add_reporting,
    add_sounds,
    open_bank,
    print_json,
    read_choice,
    read_playing,
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_fill(parser)
    add_playing(parser)
    parser.add_argument(
        "--background",
        default="plain",
        metavar="NAME",
        help="plain, dark, or a card on green, blue or magenta to key out [plain]",
    )
    parser.add_argument(
        "--title", metavar="TEXT", help='text above the music, "" for none [the name of the fill]'
    )
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.mp4", help="the clip")
    add_sounds(parser)
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Write the clip and report its length."""
    from fillwright.clip.clip import ClipSettings, make_clip, write_clip
    from fillwright.lesson.single_fill import make_single_fill

    fill = make_single_fill(read_choice(options))
    wish = ClipSettings(
        tempo=options.tempo, options=read_playing(options), background=options.background, title=options.title
    )
    clip = write_clip(options.output, lambda: make_clip(fill, wish, bank=open_bank(options), warn=_warn))
    if options.json:
        print_json({"file": str(options.output), "title": fill.title, **clip.report()})
    elif not options.quiet:
        print(f"{options.output}: {fill.title}, at {options.tempo} bpm, {clip.seconds:.1f} s")
    return 0


def _warn(sentence: str) -> None:
    print(sentence, file=sys.stderr)
