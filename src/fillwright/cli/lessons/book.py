"""Make one book of a whole series: contents, all lessons, index by figure, notation key."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_reporting, print_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("lessons", type=Path, nargs="+", metavar="LESSON.toml", help="the lesson files")
    parser.add_argument(
        "--title", default="", metavar="TEXT", help="title of the book [the series of the first lesson]"
    )
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.pdf", help="file of the book")
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Write the book and report its size."""
    import os

    from fillwright.atomic import write_file
    from fillwright.lesson.file import read_lesson
    from fillwright.pack.book import typeset_book

    lessons = sorted(map(read_lesson, options.lessons), key=lambda lesson: lesson.number)
    content = typeset_book(lessons, title=options.title, processes=os.cpu_count() or 1)
    write_file(options.output, content)
    if options.json:
        print_json({"file": str(options.output), "lessons": len(lessons), "bytes": len(content)})
    elif not options.quiet:
        count = "1 lesson" if len(lessons) == 1 else f"{len(lessons)} lessons"
        print(f"{options.output}: {count}, {len(content) / 1e6:.1f} MB")
    return 0
