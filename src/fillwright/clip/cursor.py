"""The place of a clip's cursor in each frame, and the word of the count-in that is shown."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.music.phrase import Part, Phrase
from fillwright.music.timing import Feel, make_clock
from fillwright.score.engraving.cursor import Mark
from fillwright.sound.playalong.sections import Section, unroll_repeats


@dataclass(frozen=True, slots=True, kw_only=True)
class Knot:
    """The cursor at a moment at which it is known exactly.

    Attributes:
        seconds: from the start of the audio.
        mark: its place.
        jumps: True if it leaves from here in a leap, not evenly: a line or the phrase is at its end.
    """

    seconds: float
    mark: Mark
    jumps: bool = False


def time_cursor(marks: Sequence[Mark], phrase: Phrase, section: Section, feel: Feel) -> tuple[Knot, ...]:
    """Time the cursor's way through every repetition of the phrase and the landing at the end.

    Args:
        marks: of the engraved phrase, from `find_cursor_marks`.
        phrase: what is engraved.
        section: when it is played.
        feel: with what swing.
    """
    bars = sum(bar.part is not Part.LANDING for bar in phrase.bars)
    body = bars * phrase.meter.bar
    at = make_clock(unroll_repeats(phrase, section.repeats), section.tempo, feel)
    knots: list[Knot] = []
    for repetition in range(section.repeats):
        inside = [mark for mark in marks if mark.at < body]
        after = [mark for mark in marks if mark.at >= body]
        # between two repetitions the way ends where the landing, or the end of its line, is
        way = [*inside, *(after if repetition == section.repeats - 1 else after[:1])]
        for index, mark in enumerate(way):
            last = index == len(way) - 1
            knots.append(
                Knot(
                    seconds=section.start_seconds + at(repetition * body + mark.at),
                    mark=mark,
                    jumps=last or way[index + 1].system != mark.system,
                )
            )
    return tuple(knots)


def find_cursor(way: Sequence[Knot], seconds: float) -> tuple[float, Mark]:
    """Find the cursor at a moment: its distance from the left in millimetres, and the mark it comes from.

    Args:
        way: from `time_cursor`.
        seconds: from the start of the audio; before the first knot and after the last it rests.
    """
    index = max(0, bisect_right(way, seconds, key=lambda knot: knot.seconds) - 1)
    here = way[index]
    if here.jumps or seconds <= here.seconds:
        return here.mark.x_mm, here.mark
    there = way[index + 1]
    part = (seconds - here.seconds) / (there.seconds - here.seconds)
    return here.mark.x_mm + part * (there.mark.x_mm - here.mark.x_mm), here.mark


def find_count(section: Section, seconds: float) -> int | None:
    """Find the last click of the count-in, from 0; None before the first and once the phrase has begun.

    Args:
        section: when everything is played.
        seconds: from the start of the audio.
    """
    if seconds >= section.start_seconds:
        return None
    before = [click.onset_seconds for click in section.clicks if click.onset_seconds < section.start_seconds]
    heard = bisect_right(before, seconds)
    return heard - 1 if heard else None
