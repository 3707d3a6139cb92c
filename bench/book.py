"""A book of a series: seconds for 200 pages, and where the CPU time goes: planning, engraving, typesetting."""

from __future__ import annotations

import io
import os
import time
from collections.abc import Callable
from typing import Any

import pypdf

from fillwright.lesson.file import Lesson, parse_lesson
from fillwright.music.grooves import load_grooves
from fillwright.music.rudiments import load_rudiments
from fillwright.pack import book as book_module

LESSONS = 12
"""Lessons of the book, about 100 pages. Ours."""

_STEPS = '["last beat", "last two beats", "whole bar", "round the kit", "accents to the toms", "mixed"]'


def make_series(number: int) -> list[Lesson]:
    """Make lessons, each on figures and a groove of its own."""
    names = [figure.name for figure in load_rudiments()]
    fours = [groove.name for groove in load_grooves() if groove.meter.name == "4/4"]
    lessons: list[Lesson] = []
    for place in range(number):
        own = (names[(4 * place + place // 10 + further) % len(names)] for further in range(4))
        figures = "".join(f'[[figure]]\nname = "{name}"\n' for name in own)
        head = f'number = {place + 1}\ntitle = "Week {place + 1}"\nsteps = {_STEPS}\n'
        lessons.append(parse_lesson(f'{head}groove = "{fours[place % len(fours)]}"\n{figures}'))
    return lessons


def main() -> dict[str, float]:
    lessons = make_series(LESSONS)
    spent = dict.fromkeys(("contents", "_engrave_lesson", "collect_drawings", "typeset"), 0.0)
    originals = {name: getattr(book_module, name) for name in spent}
    for name, original in originals.items():
        setattr(book_module, name, _time_calls(original, name, spent))
    try:
        cpu = time.process_time()
        content = book_module.typeset_book(lessons)
        cpu = time.process_time() - cpu
    finally:
        for name, original in originals.items():
            setattr(book_module, name, original)
    wall = time.perf_counter()
    again = book_module.typeset_book(lessons, processes=os.cpu_count() or 1)
    wall = time.perf_counter() - wall
    pages = len(pypdf.PdfReader(io.BytesIO(content)).pages)
    print(f"book of {pages} pages: {cpu:.1f} s of CPU in one process, {cpu / pages * 200:.1f} s for 200 pages")
    for name, seconds in spent.items():
        print(f"  {name.strip('_'):<16} {seconds / cpu:6.1%}")
    print(
        f"  with {os.cpu_count()} processes {wall:.1f} s, {wall / pages * 200:.1f} s for 200 pages (aim: 20 s)"
    )
    return {"pages": pages, "cpu": cpu, "seconds": wall, "same": float(content == again)}


def _time_calls(function: Callable[..., Any], name: str, spent: dict[str, float]) -> Callable[..., Any]:
    """Return the function with its CPU time added up under its name."""

    def call(*arguments: Any, **named: Any) -> Any:
        start = time.process_time()
        try:
            return function(*arguments, **named)
        finally:
            spent[name] += time.process_time() - start

    return call


if __name__ == "__main__":
    main()
