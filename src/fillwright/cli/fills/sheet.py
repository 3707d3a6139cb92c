"""Engrave one fill from options, without a lesson file."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_fill, add_reporting, print_json, read_choice


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    add_fill(parser)
    parser.add_argument(
        "-o", "--output", type=Path, required=True, metavar="FILE", help=".svg, .pdf, .png, .musicxml or .mid"
    )
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Write the file and say what is in it."""
    from fillwright.atomic import write_whole
    from fillwright.lesson.single_fill import sheet_file, single, suffix_of

    one = single(read_choice(options))
    write_whole(options.output, sheet_file(one, suffix_of(options.output), tempo=options.tempo))
    if options.json:
        print_json({"file": str(options.output), "title": one.title, "rhythm": one.step.rhythm.name})
    elif not options.quiet:
        print(f"{options.output}: {one.title}, in {one.step.rhythm.name}")
    return 0
