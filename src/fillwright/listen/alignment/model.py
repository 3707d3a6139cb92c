"""The alignment of a take: which onset is which written stroke, in every repetition of the phrase."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, StrEnum


class Outcome(Enum):
    """Outcome of a written stroke."""

    PLAYED = "played"
    TIMING_UNCERTAIN = "timing uncertain"
    MISSING = "missing"
    NOT_AUDIBLE = "not audible"


class AlignmentRefusal(StrEnum):
    """The reason for which a take is not aligned."""

    SILENCE = "silence"
    TOO_SHORT = "too short"
    TOO_NOISY = "too noisy"
    OTHER_TEMPO = "tempo"
    OTHER_PHRASE = "wrong phrase"
    NO_FILL = "no fill"


class BreakKind(StrEnum):
    """Difference between the flow of a repetition and the written phrase."""

    WAITED = "waited"  # time was added
    CAME_EARLY = "came early"  # time was dropped
    LEFT_OUT = "left out"  # bars of the groove were not played
    JOINED_LATE = "joined late"  # the take begins after the phrase does
    STOPPED_EARLY = "stopped early"  # the take ends before the phrase does


class SurfaceSource(StrEnum):
    """The evidence for the drum or cymbal of a stroke."""

    ELECTRONIC_KIT = "electronic kit"
    CALIBRATION = "calibration"
    EAR = "ear"  # a network that knows the sounds of drums
    NONE = ""  # only the sounds of the take itself, which can't show what was struck in every repetition


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowBreak:
    """A place at which the flow of a repetition differs from the written phrase.

    Attributes:
        kind: how it differs.
        written_seconds: time in the written phrase after which it does.
        seconds: time added, in seconds of the take; negative if dropped, 0 where the take begins or ends.
    """

    kind: BreakKind
    written_seconds: float
    seconds: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignedStroke:
    """One written stroke of one repetition.

    Attributes:
        written: its index in `WrittenPhrase.strokes`.
        outcome: played, timing uncertain, missing or not audible.
        expected_seconds: time in the take at which the fitted tempo map expects it.
        onset: index of its onset in `DetectedTake.onsets`; None if it has none or only a faint one.
        played_seconds: time in the take at which it was played, the attack latency of its sound removed; None
            if it was not detected.
        lag_ms: + late, − early, by the groove's own tempo; None if it was not detected or its timing is
            uncertain.
        surface_played: drum or cymbal that it sounds like; "" if unknown.
        surface_confidence: probability of `surface_played`, 0 to 1.
        loudness_db: against the usual tap of its surface; None if unknown.
    """

    written: int
    outcome: Outcome
    expected_seconds: float
    onset: int | None = None
    played_seconds: float | None = None
    lag_ms: float | None = None
    surface_played: str = ""
    surface_confidence: float = 0.0
    loudness_db: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repetition:
    """One repetition of the phrase.

    Attributes:
        start_seconds: time in the take of its first beat.
        strokes: one for each written stroke, in order.
        bar_starts: start of each bar and end of the last, in seconds in the take, as fitted.
        groove_tempo: of the groove before the fill, in bpm.
        fill_rush_percent: how much faster the fill is than the groove (+ rushes, − drags); None without a fill
            or with too few strokes in it.
        fill_rush_error_percent: standard error of that; None likewise.
        breaks: places at which the flow differs from the written phrase.
    """

    start_seconds: float
    strokes: tuple[AlignedStroke, ...]
    bar_starts: tuple[float, ...]
    groove_tempo: float
    fill_rush_percent: float | None = None
    fill_rush_error_percent: float | None = None
    breaks: tuple[FlowBreak, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """A take aligned with the written phrase.

    Attributes:
        repetitions: in order; empty if the take is refused.
        extra: indices of onsets in a repetition that belong to no written stroke.
        refused: the reason if nothing is scored, else None.
        tempo_found: best-fitting tempo in bpm, even of a refused take; None for silence.
        share_matched: share of the main strokes that were played, 0 to 1.
        surfaces_from: the evidence for `AlignedStroke.surface_played`.
    """

    repetitions: tuple[Repetition, ...]
    extra: tuple[int, ...] = ()
    refused: AlignmentRefusal | None = None
    tempo_found: float | None = None
    share_matched: float = 0.0
    surfaces_from: SurfaceSource = SurfaceSource.NONE
