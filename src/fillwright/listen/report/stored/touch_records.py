"""Records of grace notes, rolls, hands and breaks of the flow in a stored report."""

from __future__ import annotations

from typing import Literal

import msgspec

from fillwright.listen.report.stored.types import (
    Count,
    Measure,
    Ordinal,
)


class GraceRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A grace note: `place` counts the grace notes of a drag from 1; the gaps are to the main note."""

    repetition: Ordinal
    bar: Ordinal
    beat: Measure
    surface: str
    kind: Literal["flam", "drag"]
    place: Ordinal
    written_gap_ms: Measure
    gap_ms: Measure


class RollRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A row of the fill's strokes at one written interval, and how evenly it was played."""

    repetition: Ordinal
    bar: Ordinal
    strokes: Count
    interval_ms: Measure | None
    interval_unevenness_ms: Measure | None
    loudness_unevenness_db: Measure | None


class HandRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One hand in the fill: lag against the fill's own tempo, and loudness of its strokes."""

    strokes: Count
    lag_ms: Measure | None
    lag_error_ms: Measure | None
    unevenness_ms: Measure | None
    loudness_db: Measure | None
    loudness_error_db: Measure | None


class HandDifferenceRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Right hand minus left hand, with standard errors."""

    lag_ms: Measure | None
    lag_error_ms: Measure | None
    loudness_db: Measure | None
    loudness_error_db: Measure | None


class HandsRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Both hands; `pooled` is True with enough strokes to call the difference a habit."""

    right: HandRecord | None
    left: HandRecord | None
    right_less_left: HandDifferenceRecord
    pooled: bool


class BreakRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A place at which the flow differs from the written phrase: `beats` added there, or dropped if negative.

    Attributes:
        repetition: number of the repetition, from 1.
        bar: of the stroke after it, from 1.
        beat: of that stroke, from 1.
        kind: how the flow differs.
        beats: time added; 0 where the take begins or ends.
        place: where it is.
    """

    repetition: Ordinal
    bar: Ordinal
    beat: Measure
    kind: Literal["waited", "came early", "left out", "joined late", "stopped early"]
    beats: Measure
    place: Literal["groove", "before the fill", "fill", "before the landing"]
