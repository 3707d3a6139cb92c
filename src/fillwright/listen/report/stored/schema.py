"""The report on a take as it is stored and exported: one struct for each table of the JSON.

`docs/listening.md` describes every key. Times are seconds in the take; lags are milliseconds, + late, − early.
None (null in JSON) stands for an unknown value.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from fillwright.listen.report.stored.stroke_records import (
    BarRecord,
    ExtraRecord,
    PlaceRecord,
    RepetitionRecord,
    StrokeRecord,
    WrongDrumRecord,
)
from fillwright.listen.report.stored.touch_records import BreakRecord, GraceRecord, HandsRecord, RollRecord
from fillwright.listen.report.stored.types import (
    Count,
    Measure,
    Refusal,
    Row,
    Share,
)
from fillwright.listen.report.stored.verdict_records import ConfidenceRecord, VerdictRecord

VERSION = 3
"""Version of the keys below; reports without a `version` are version 1."""


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
