"""The run sheet: every demonstration of a recording, with exact lengths, start times and chapters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from importlib.resources import files

from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill
from fillwright.pack.handout import get_typst_paper, format_footer
from fillwright.score.engraving.paper import typeset

_COLUMNS = ("Start", "Fill", "What to play", "Tempo", "Bars", "Length")


@dataclass(frozen=True, slots=True, kw_only=True)
class Demonstration:
    """One fill played once in front of the microphone.

    Attributes:
        fill: what is played.
        tempo: in the meter's beats a minute.
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
    """Every fill at the slowest and at the fastest rung of its ladder, one behind the other.

    Args:
        fills: in teaching order.
        count_in: bars of clicks before each.
    """
    start = Fraction(0)
    made = []
    for fill in fills:
        for tempo in dict.fromkeys((fill.ladder[0], fill.ladder[-1])):
            bars = len(fill.phrase.bars)
            meter = fill.phrase.meter
            bar_seconds = meter.bar / meter.tempo_unit * 60 / tempo
            length = (count_in + bars) * bar_seconds
            made.append(
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
    return tuple(made)


def sum_seconds(shown: Sequence[Demonstration]) -> Fraction:
    """How long all demonstrations take together."""
    return sum((one.length_seconds for one in shown), Fraction(0))


def format_chapters(shown: Sequence[Demonstration]) -> str:
    """A line `MM:SS title` for each fill, where it is first played; hours in front from an hour on."""
    lines = []
    last = 0
    for one in shown:
        if one.fill.number != last:
            lines.append(f"{format_clock(one.start_seconds)} {one.fill.chapter}")
            last = one.fill.number
    return "\n".join(lines) + "\n"


def format_clock(seconds: Fraction) -> str:
    """Whole seconds as `MM:SS`, or `H:MM:SS`.

    >>> clock(Fraction(75)), clock(Fraction(3675))
    ('01:15', '1:01:15')
    """
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes:02d}:{rest:02d}"


def format_precise(seconds: Fraction) -> str:
    """Seconds to the thousandth as `M:SS.mmm`.

    >>> precise(Fraction(121, 8))
    '0:15.125'
    """
    thousandths = round(seconds * 1000)
    minutes, rest = divmod(thousandths, 60_000)
    return f"{minutes}:{rest // 1000:02d}.{rest % 1000:03d}"


def typeset_run_sheet(lesson: Lesson, fills: Sequence[LessonFill]) -> bytes:
    """The run sheet as PDF."""
    shown = plan_demonstrations(fills, count_in=lesson.count_in)
    rows = [
        (
            format_precise(one.start_seconds),
            str(one.fill.number),
            one.fill.title,
            str(one.tempo),
            f"{one.count_in} + {one.bars}",
            format_precise(one.length_seconds),
        )
        for one in shown
    ]
    data = {
        "heading": f"Run sheet: {lesson.title}",
        "teacher": lesson.teacher,
        "running": format_footer(lesson),
        "page": get_typst_paper(lesson.page),
        "summary": (
            f"{len(shown)} demonstrations, {format_precise(sum_seconds(shown))} of playing. "
            "Bars are count-in + phrase with its landing; start times are for playing straight on."
        ),
        "columns": _COLUMNS,
        "rows": rows,
    }
    template = files(__package__).joinpath("run_sheet.typ").read_text("utf-8")
    return typeset(template, data, {})
