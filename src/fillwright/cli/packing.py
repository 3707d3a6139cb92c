"""Pack builds with a progress bar, and the report on them."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from fillwright.cli.options import open_bank, print_json

if TYPE_CHECKING:
    from fillwright.lesson.file import Lesson
    from fillwright.pack.build import BuildReport


def build_and_report(lesson: Lesson, text: str, options: argparse.Namespace) -> None:
    """Build the pack into `options.output`, show progress and print the report that the options choose."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    from fillwright.pack.build import build_pack

    bank = open_bank(options)
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
        print(_describe_build(lesson, built))


def as_json(built: BuildReport) -> dict[str, object]:
    """Return a build as `--json` prints it."""
    return {
        "folder": str(built.folder),
        "fills": len(built.fills),
        "made": list(built.written),
        "kept": list(built.kept),
        "dropped": list(built.dropped),
        "left_out": list(built.left_out),
        "demonstration_seconds": built.demonstration_seconds,
    }


def _describe_build(lesson: Lesson, built: BuildReport) -> str:
    tempos = ", ".join(map(str, lesson.tempo))
    audio = _count_noun(sum(len(fill.ladder) for fill in built.fills), f"{lesson.audio} file")
    lines = [
        f"Lesson {lesson.number}, {lesson.title}: {_count_noun(len(built.fills), 'fill')} at {tempos}.",
        f"  {built.folder}",
        "  handout.pdf     every fill in order, to print",
        "  practice.html   the page to practise with; opens in any browser, needs no network",
        "  run-sheet.pdf   the list of fills to record, with times; chapters.txt has the chapter lines",
        f"  fills/          a folder for each fill: notation, MIDI, MusicXML and audio ({audio})",
        _describe_work(built),
    ]
    lines += [f"Skipped: {sentence}" for sentence in built.left_out]
    return "\n".join(lines)


def _describe_work(built: BuildReport) -> str:
    if not built.written:
        return f"Nothing has changed. All {len(built.kept)} files are kept."
    kept = f", {len(built.kept)} kept" if built.kept else ""
    dropped = f", {len(built.dropped)} removed because the lesson no longer has them" if built.dropped else ""
    return f"{_count_noun(len(built.written), 'file')} made{kept}{dropped}."


def _count_noun(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
