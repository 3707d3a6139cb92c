"""The run sheet: every demonstration of a recording, with exact lengths, start times and chapters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from importlib.resources import files

from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill
from fillwright.pack.handout import format_footer, get_typst_paper
from fillwright.score.engraving.paper import typeset

_COLUMNS = ("Start", "Fill", "Play", "bpm", "Bars", "Length")


@dataclass(frozen=True, slots=True, kw_only=True)
class Demonstration:
    """One fill played once in front of the microphone.

    Attributes:
        fill: what is played.
        tempo: in the meter's bpm.
        count_in: bars of clicks before it.
        bars: bars played, the landing bar included.
        start_seconds: from the start of the recording, exact.
        length_seconds: count-in and bars, exact.
    """

    fill: LessonFill
    tempo: int
    count_in: int
    bars: int
    start_seconds: Fraction
    length_seconds: Fraction


def plan_demonstrations(fills: Sequence[LessonFill], *, count_in: int = 1) -> tuple[Demonstration, ...]:
    """Plan every fill at the slowest and at the fastest tempo of its ladder, one after the other.

    Args:
        fills: in teaching order.
        count_in: bars of clicks before each.
    """
    start = Fraction(0)
    planned = []
    for fill in fills:
        for tempo in dict.fromkeys((fill.ladder[0], fill.ladder[-1])):
            bars = len(fill.phrase.bars)
            meter = fill.phrase.meter
            bar_seconds = meter.bar / meter.tempo_unit * 60 / tempo
            length = (count_in + bars) * bar_seconds
            planned.append(
                Demonstration(
                    fill=fill,
                    tempo=tempo,
                    count_in=count_in,
                    bars=bars,
                    start_seconds=start,
                    length_seconds=length,
                )
            )
            start += length
    return tuple(planned)


def sum_seconds(played: Sequence[Demonstration]) -> Fraction:
    """Return how long all demonstrations take together, in seconds."""
    return sum((demonstration.length_seconds for demonstration in played), Fraction(0))


def format_chapters(played: Sequence[Demonstration]) -> str:
    """Write a line `MM:SS title` for each fill, at the time it is first played; `H:MM:SS` from an hour on."""
    lines = []
    last = 0
    for demonstration in played:
        if demonstration.fill.number != last:
            lines.append(f"{format_clock(demonstration.start_seconds)} {demonstration.fill.chapter}")
            last = demonstration.fill.number
    return "\n".join(lines) + "\n"


def format_clock(seconds: Fraction) -> str:
    """Write whole seconds as `MM:SS`, or `H:MM:SS`.

    >>> format_clock(Fraction(75)), format_clock(Fraction(3675))
    ('01:15', '1:01:15')
    """
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes:02d}:{rest:02d}"


def format_precise(seconds: Fraction) -> str:
    """Write seconds to the thousandth as `M:SS.mmm`.

    >>> format_precise(Fraction(121, 8))
    '0:15.125'
    """
    thousandths = round(seconds * 1000)
    minutes, rest = divmod(thousandths, 60_000)
    return f"{minutes}:{rest // 1000:02d}.{rest % 1000:03d}"


def typeset_run_sheet(lesson: Lesson, fills: Sequence[LessonFill]) -> bytes:
    """Return the run sheet as PDF."""
    played = plan_demonstrations(fills, count_in=lesson.count_in)
    count = "1 demonstration" if len(played) == 1 else f"{len(played)} demonstrations"
    rows = [
        (
            format_precise(demonstration.start_seconds),
            str(demonstration.fill.number),
            demonstration.fill.title,
            str(demonstration.tempo),
            f"{demonstration.count_in} + {demonstration.bars}",
            format_precise(demonstration.length_seconds),
        )
        for demonstration in played
    ]
    data = {
        "heading": f"Run sheet: {lesson.title}",
        "teacher": lesson.teacher,
        "running": format_footer(lesson),
        "page": get_typst_paper(lesson.page),
        "summary": (
            f"{count}, {format_precise(sum_seconds(played))} in all. "
            "Bars: count-in + phrase with its landing. Start times assume no break between demonstrations."
        ),
        "columns": _COLUMNS,
        "rows": rows,
    }
    template = files(__package__).joinpath("run_sheet.typ").read_text("utf-8")
    return typeset(template, data, {})
