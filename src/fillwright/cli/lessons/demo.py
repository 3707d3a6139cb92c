"""Build the pack of the demo lesson."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_reporting, add_sounds
from fillwright.cli.packing import build_and_report


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "-o", "--output", type=Path, default=Path("out"), metavar="DIR", help="folder of the pack [out]"
    )
    add_sounds(parser)
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Build the pack and report what was built."""
    from fillwright.lesson.file import parse_lesson, read_demo_text

    text = read_demo_text()
    build_and_report(parse_lesson(text, "demo.toml"), text, options)
    return 0
