"""Building a pack with a progress bar, and the report behind it."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from fillwright.cli.options import print_json
from fillwright.cli.sounding import bank_of

if TYPE_CHECKING:
    from fillwright.lesson.file import Lesson
    from fillwright.pack.build import Built


def build_and_report(lesson: Lesson, text: str, options: argparse.Namespace) -> None:
    """Build the pack into `options.output`; progress and report as the options ask."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    from fillwright.pack.build import build_pack

    bank = bank_of(options)
    console = Console(stderr=True)
    hidden = options.quiet or options.json or not console.is_terminal
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=console, transient=True, disable=hidden) as bar:
        task = bar.add_task("Building", total=None)
        built = build_pack(
            lesson,
            text,
            options.output,
            progress=lambda _, done, total: bar.update(task, completed=done, total=total),
            bank=bank,
        )
    if options.json:
        print_json(as_json(built))
    elif not options.quiet:
        print(_in_words(lesson, built))


def as_json(built: Built) -> dict[str, object]:
    """A build as `--json` gives it."""
    return {
        "folder": str(built.folder),
        "fills": len(built.fills),
        "made": list(built.made),
        "kept": list(built.kept),
        "dropped": list(built.dropped),
        "left_out": list(built.left_out),
        "demonstration_seconds": built.demonstration_seconds,
    }


def _in_words(lesson: Lesson, built: Built) -> str:
    tempos = ", ".join(map(str, lesson.tempo))
    audio = _counted(sum(len(fill.ladder) for fill in built.fills), f"{lesson.audio} file")
    lines = [
        f"Lesson {lesson.number}, {lesson.title}: {_counted(len(built.fills), 'fill')} at {tempos}.",
        f"  {built.folder}",
        "  handout.pdf     every fill, in order, to print",
        "  practice.html   the page the student practises with; opens in any browser, needs no network",
        "  run-sheet.pdf   what to play for a recording, with times; chapters.txt has the chapter lines",
        f"  fills/          a folder for each fill: notation, MIDI, MusicXML and audio ({audio})",
        _work(built),
    ]
    lines += [f"Left out: {sentence}" for sentence in built.left_out]
    return "\n".join(lines)


def _work(built: Built) -> str:
    if not built.made:
        return f"Nothing had changed; all {len(built.kept)} files were kept."
    kept = f", {len(built.kept)} kept as they were" if built.kept else ""
    dropped = f", {len(built.dropped)} no longer in the lesson dropped" if built.dropped else ""
    return f"{_counted(len(built.made), 'file')} made{kept}{dropped}."


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
