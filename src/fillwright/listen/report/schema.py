"""The report on a take as it is stored and exported: one struct for each table of the JSON.

`docs/listening.md` describes every key. Times are seconds in the take; lags are milliseconds, + late, − early.
None (null in JSON) stands for an unknown value.
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

VERSION = 3
"""Version of the keys below; reports without a `version` are version 1."""

# No measured value comes near these bounds (ours); they keep out "not a number" and infinity.
Measure = Annotated[float, msgspec.Meta(ge=-1e9, le=1e9)]
Count = Annotated[int, msgspec.Meta(ge=0)]  # how many
Ordinal = Annotated[int, msgspec.Meta(ge=1)]  # which one
Share = Annotated[float, msgspec.Meta(ge=0.0, le=1.0)]  # of all, or a probability

Refusal = Literal[
    "",
    "silence",
    "wrong phrase",
    "tempo",
    "too noisy",
    "too short",
    "no fill",
    "too few",
    "clipped",
]
CriterionKey = Literal[
    "strokes",
    "drums",
    "groove",
    "flams",
    "drags",
    "accents",
    "extra",
    "flow",
    "landing",
    "time",
    "tempo",
    "swing",
]
"""What a fill can be judged by."""
StrokeOutcome = Literal["played", "timing uncertain", "missing", "not audible"]
Row = tuple[str, str]
"""A line of the table of numbers: what is measured, and its value in words."""


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


class CriterionRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A criterion that a fill is judged by, and what it asks for, in words."""

    key: CriterionKey
    words: str


class VerdictRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The verdict on a take.

    Attributes:
        passed: True if everything asked was shown, False if something is wrong, None if it can't be judged.
        asked: every criterion, in the order of importance, and what it asks for.
        shown: those that the take meets.
        not_shown: those that this take can't show, and what to do.
        wrong: those that it does not meet, and why.
    """

    passed: bool | None
    asked: tuple[CriterionRecord, ...]
    shown: tuple[CriterionKey, ...]
    not_shown: tuple[CriterionRecord, ...]
    wrong: tuple[CriterionRecord, ...]


class ConfidenceRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Confidence in the report, "none" where nothing is scored, and a sentence for each limit."""

    level: Literal["high", "fair", "low", "none"]
    limits: tuple[str, ...]


class ReportRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The report on a take.

    Attributes:
        version: of these keys, always `VERSION` in memory.
        take: name of the recording's file.
        against: title of what was written.
        fill: number of the fill in its pack; None for a MIDI file.
        refused: "", or why nothing is scored.
        tempo_target: in bpm.
        tempo_found: tempo that fits best, in bpm.
        tempo_played: tempo of the grooves, in bpm.
        seconds: length of the take.
        share_matched: share of the written main strokes that were played.
        strokes_written: number of written strokes of all repetitions.
        onsets_matched: number of those that were detected.
        missing: strokes that are missing.
        not_audible: strokes that this recording can't show.
        extra: strokes that are not written.
        wrong_surface: strokes on another drum.
        strokes: every written stroke of every repetition.
        bars: every bar of every repetition.
        repetitions: every repetition.
        drift_percent: how much faster the groove ends than it starts.
        fill_rush_percent: how much faster the fill is than the groove.
        fill_rush_error_percent: standard error of that.
        landing_lag_ms: mean lag of the landings.
        landing_unevenness_ms: standard deviation of the landings.
        groove_unevenness_ms: standard deviation of the groove's lags.
        fill_unevenness_ms: standard deviation of the fill's lags against its own tempo.
        flams: flams, and each grace note of drags.
        rolls: rows of even strokes in the fill.
        accent_db: accents against taps of the same drums.
        ghost_db: ghost notes against taps of the same drums.
        hands: both hands.
        words: three sentences: what was good, what to fix first, which tempo comes next.
        numbers: the table of numbers in words.
        confidence: how far to trust all of it.
        remarks: what was merged, skipped or unknown in MIDI files, a sentence each.
        landing_pulse_ms: mean lag of the landings against the player's own pulse of the last beats.
        landing_pulse_error_ms: standard error of that.
        fill_accent_db: accents against taps of the same drums, in the fill alone.
        breaks: places at which the flow differs from the written phrase.
        drums_from: the evidence for the drums that were struck; "" without any.
        swing: how the groove's eighths were played.
        doubtful: True if another phrase may have been played.
        verdict: passed or not, and why; None in reports of earlier versions.
    """

    version: int = VERSION
    take: str
    against: str
    fill: int | None
    refused: Refusal
    tempo_target: Measure
    tempo_found: Measure | None
    tempo_played: Measure | None
    seconds: Measure
    share_matched: Share
    strokes_written: Count
    onsets_matched: Count
    missing: tuple[PlaceRecord, ...]
    not_audible: tuple[PlaceRecord, ...]
    extra: tuple[ExtraRecord, ...]
    wrong_surface: tuple[WrongDrumRecord, ...]
    strokes: tuple[StrokeRecord, ...]
    bars: tuple[BarRecord, ...]
    repetitions: tuple[RepetitionRecord, ...]
    drift_percent: Measure | None
    fill_rush_percent: Measure | None
    fill_rush_error_percent: Measure | None
    landing_lag_ms: Measure | None
    landing_unevenness_ms: Measure | None
    groove_unevenness_ms: Measure | None
    fill_unevenness_ms: Measure | None
    flams: tuple[GraceRecord, ...]
    rolls: tuple[RollRecord, ...]
    accent_db: Measure | None
    ghost_db: Measure | None
    hands: HandsRecord | None
    words: tuple[str, str, str]
    numbers: tuple[Row, ...]
    confidence: ConfidenceRecord
    remarks: tuple[str, ...]
    landing_pulse_ms: Measure | None = None
    landing_pulse_error_ms: Measure | None = None
    fill_accent_db: Measure | None = None
    breaks: tuple[BreakRecord, ...] = ()
    drums_from: Literal["", "electronic kit", "calibration", "ear"] = ""
    swing: Literal["as written", "straight", "shuffle"] = "as written"
    doubtful: bool = False
    verdict: VerdictRecord | None = None
