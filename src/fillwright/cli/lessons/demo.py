"""Build the demo lesson."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_reporting, add_sounds
from fillwright.cli.packing import build_and_report


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument(
        "-o", "--output", type=Path, default=Path("out"), metavar="DIR", help="folder of the pack (out)"
    )
    add_sounds(parser)
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Build the pack and say what was made."""
    from fillwright.lesson.file import demo_text, parse_lesson

    text = demo_text()
    build_and_report(parse_lesson(text, "demo.toml"), text, options)
    return 0
