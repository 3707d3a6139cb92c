"""Set a whole series as one book: contents, all lessons, index by figure, kit key."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_reporting, print_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("lessons", type=Path, nargs="+", metavar="LESSON.toml", help="the lesson files")
    parser.add_argument("--title", default="", help="of the book (the series of the first lesson)")
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.pdf", help="the book")
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Set the book and say how large it is."""
    import os

    from fillwright.atomic import write_whole
    from fillwright.lesson.file import read_lesson
    from fillwright.pack.book import typeset_book

    lessons = sorted(map(read_lesson, options.lessons), key=lambda lesson: lesson.number)
    content = typeset_book(lessons, title=options.title, processes=os.cpu_count() or 1)
    write_whole(options.output, content)
    if options.json:
        print_json({"file": str(options.output), "lessons": len(lessons), "bytes": len(content)})
    elif not options.quiet:
        count = "1 lesson" if len(lessons) == 1 else f"{len(lessons)} lessons"
        print(f"{options.output}: {count}, {len(content) / 1e6:.1f} MB")
    return 0
