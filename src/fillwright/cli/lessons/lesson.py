"""Build the pack of a lesson file: handout, practice page, run sheet, and the files of each fill."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_reporting, add_sounds, print_warning
from fillwright.cli.packing import build_and_report


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("lesson", type=Path, metavar="LESSON.toml", help="the lesson file")
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="DIR", help="folder of the pack")
    add_sounds(parser)
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Build the pack and report what was built."""
    from fillwright.lesson.file import parse_lesson, read_lesson_text

    text = read_lesson_text(options.lesson)
    lesson = parse_lesson(text, options.lesson.name)
    if not options.quiet:
        for note in lesson.notes_on_file:
            print_warning(note)
    build_and_report(lesson, text, options)
    return 0
