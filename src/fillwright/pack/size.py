"""The size of a pack, estimated before it is built, and its limits."""

from __future__ import annotations

from collections.abc import Sequence

from fillwright import budget
from fillwright.errors import FitError
from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill

_AUDIO_BYTES_PER_SECOND = {"wav": 176_400, "flac": 120_000, "ogg": 25_000, "mp3": 20_000}
"""Bytes of a second of stereo sound: 16 bits at 44,100 for wav, the others as large as the demo lesson's."""

_FILL_BYTES = (
    400_000  # notation, MIDI, MusicXML and the fill's part of the pages; the demo lesson's have 350,000
)


def check_pack_size(lesson: Lesson, fills: Sequence[LessonFill]) -> None:
    """Refuse a lesson whose pack would be too large.

    Raises:
        FitError: with the counts that were found and those that are accepted.
    """
    if len(fills) > budget.FILLS:
        raise FitError(
            f"The lesson has {len(fills):,} fills; a pack has at most {budget.FILLS:,}, "
            "so name fewer figures or steps, or split the lesson."
        )
    files = sum(len(fill.ladder) for fill in fills)
    if files > budget.PACK_AUDIO_FILES:
        raise FitError(
            f"The lesson has {len(fills):,} fills at up to {len(lesson.tempo)} tempos, "
            f"together {files:,} audio files; a pack has at most {budget.PACK_AUDIO_FILES:,}, "
            "so name fewer figures, steps or tempos, or split the lesson."
        )
    size = estimate_bytes(lesson, fills)
    if size > budget.PACK_BYTES:
        raise FitError(
            f"The pack would have about {budget.format_bytes(size)} with {files:,} {lesson.audio} files; "
            f"at most {budget.format_bytes(budget.PACK_BYTES)} are accepted, "
            "so set audio to mp3, or name fewer figures, steps or tempos."
        )


def estimate_bytes(lesson: Lesson, fills: Sequence[LessonFill]) -> int:
    """Return about how many bytes the pack of a lesson has."""
    seconds = 0.0
    for fill in fills:
        meter = fill.phrase.meter
        beats = float((lesson.count_in + len(fill.phrase.bars)) * meter.bar / meter.tempo_unit)
        seconds += sum(beats * 60 / tempo for tempo in fill.ladder)
    return round(seconds * _AUDIO_BYTES_PER_SECOND[lesson.audio]) + len(fills) * _FILL_BYTES
