"""Records of strokes, bars and repetitions in a stored report."""

from __future__ import annotations

from typing import Literal

import msgspec

from fillwright.listen.report.stored.types import (
    Measure,
    Ordinal,
    Share,
    StrokeOutcome,
)


class PlaceRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A stroke that is missing or not audible.

    Attributes:
        time_s: time at which it is written.
        repetition: number of the repetition, from 1.
        bar: from 1.
        beat: from 1; 2.5 is half-way between beats 2 and 3.
        surface: drum or cymbal.
        hand: "R", "L", "right foot", "left foot", or "" if unknown.
        grace: True for a grace note.
    """

    time_s: Measure
    repetition: Ordinal
    bar: Ordinal
    beat: Measure
    surface: str
    hand: str
    grace: bool


class WrongDrumRecord(PlaceRecord, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A stroke on another drum than the written one: the drum played, and how sure that is."""

    surface_played: str
    confidence: Share


class ExtraRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A stroke that is not written; `surface` is "" if unknown."""

    time_s: Measure
    repetition: Ordinal
    bar: Ordinal
    surface: str
    loudness_db: Measure


class StrokeRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A written stroke of one repetition.

    Attributes:
        repetition: number of the repetition, from 1.
        bar: from 1.
        beat: from 1; a grace note has its main note's.
        written_s: time at which it is written, by the groove's tempo.
        played_s: time at which it was played.
        lag_ms: the difference of the two; None if the timing is uncertain.
        outcome: played, timing uncertain, missing or not audible.
        surface_written: drum or cymbal in the notation.
        surface_played: drum or cymbal detected, "" if unknown.
        surface_confidence: 0 to 1.
        hand: "R", "L", "right foot", "left foot", or "" if unknown.
        dynamics: accent, tap or ghost.
        loudness_db: against the usual tap of the same drum.
        grace: True for a grace note.
        fill: True for a stroke of the fill.
        landing: True for a stroke of the landing.
    """

    repetition: Ordinal
    bar: Ordinal
    beat: Measure
    written_s: Measure
    played_s: Measure | None
    lag_ms: Measure | None
    outcome: StrokeOutcome
    surface_written: str
    surface_played: str
    surface_confidence: Share
    hand: str
    dynamics: Literal["accent", "tap", "ghost"]
    loudness_db: Measure | None
    grace: bool
    fill: bool
    landing: bool


class BarRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A bar of one repetition: its tempo, and lag and unevenness of its main strokes."""

    repetition: Ordinal
    bar: Ordinal
    fill: bool
    start_s: Measure
    bpm: Measure
    lag_ms: Measure | None
    unevenness_ms: Measure | None


class RepetitionRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One repetition of the phrase: tempo of the groove, rush of the fill, lag of the landing.

    `landing_pulse_ms` is its lag against the player's own pulse of the last beats.
    """

    repetition: Ordinal
    start_s: Measure
    groove_bpm: Measure
    drift_percent: Measure | None
    fill_rush_percent: Measure | None
    fill_rush_error_percent: Measure | None
    landing_lag_ms: Measure | None
    landing_pulse_ms: Measure | None = None
    landing_pulse_error_ms: Measure | None = None
