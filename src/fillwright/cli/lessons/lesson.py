"""Build everything for a lesson file: handout, audio, MIDI, MusicXML, notation, run sheet."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_reporting, add_sounds
from fillwright.cli.packing import build_and_report


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("lesson", type=Path, metavar="LESSON.toml", help="the lesson file")
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="DIR", help="folder of the pack")
    add_sounds(parser)
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Build the pack and say what was made."""
    from fillwright.lesson.file import read_lesson
    from fillwright.tables.toml_source import read_text

    lesson = read_lesson(options.lesson)
    build_and_report(lesson, read_text(options.lesson), options)
    return 0
