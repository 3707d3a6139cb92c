"""Engrave one fill from options, without a lesson file."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_fill, add_reporting, print_json, read_choice


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_fill(parser)
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="FILE",
        help="file to write: .svg, .pdf, .png, .musicxml or .mid",
    )
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Write the file and report what is in it."""
    from fillwright.atomic import write_file
    from fillwright.lesson.single_fill import get_suffix, make_single_fill, render_sheet

    fill = make_single_fill(read_choice(options))
    write_file(options.output, render_sheet(fill, get_suffix(options.output), tempo=options.tempo))
    if options.json:
        print_json({"file": str(options.output), "title": fill.title, "rhythm": fill.step.rhythm.name})
    elif not options.quiet:
        print(f"{options.output}: {fill.title}, in {fill.step.rhythm.name}")
    return 0
