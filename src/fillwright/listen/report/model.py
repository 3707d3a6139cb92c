"""What is said of a take, as values."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.limits import limit
from fillwright.music.stroke import Level


class Swing(Enum):
    """How the groove's eighths are played."""

    WRITTEN = "as written"
    STRAIGHT = "straight, where a shuffle is written"
    SHUFFLE = "swung, where straight eighths are written"


@dataclass(frozen=True, slots=True, kw_only=True)
class Statistics:
    """A measure taken several times.

    Attributes:
        mean: of all.
        deviation: standard deviation; None for one alone.
        count: how many.
    """

    mean: float
    deviation: float | None
    count: int

    @property
    def error(self) -> float | None:
        """Standard error of the mean."""
        return None if self.deviation is None else self.deviation / float(self.count) ** 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeReport:
    """One written stroke of one pass.

    Attributes:
        turn: which time through the phrase, from 1.
        index: its place in `Expected.strokes`.
        bar: from 1.
        beat: from 1; 2.5 lies half-way between beats 2 and 3. A grace note has its main note's.
        surface: what is written.
        hand: "R", "L", "right foot", "left foot" or "" where nobody says.
        level: accent, tap or ghost.
        in_fill: whether it belongs to the fill.
        landing: whether it belongs to the landing.
        grace: whether it is a grace note.
        outcome: what became of it.
        written_seconds: its place in the take by the groove's own time.
        played_seconds: where it was heard, None where it was not.
        lag_ms: + late, − early; None where it was not heard or the time is unsure.
        surface_heard: what it sounds like; "" where that can't be told.
        surface_trust: 0 to 1.
        level_db: against the usual tap of its surface; None where unknown or the recording is overdriven.
    """

    turn: int
    index: int
    bar: int
    beat: float
    surface: str
    hand: str
    level: Level
    in_fill: bool
    landing: bool
    grace: bool
    outcome: Outcome
    written_seconds: float
    played_seconds: float | None = None
    lag_ms: float | None = None
    surface_heard: str = ""
    surface_trust: float = 0.0
    level_db: float | None = None

    @property
    def played(self) -> bool:
        """Whether it was heard."""
        return self.outcome in (Outcome.PLAYED, Outcome.UNSURE)


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtraReport:
    """A stroke that nobody wrote: which time through, from 1, its bar, from 1, and what was heard."""

    turn: int
    bar: int
    seconds: float
    surface: str
    level_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BarReport:
    """One bar of one pass; a landing's bar has no end and is none.

    Attributes:
        turn: which time through, from 1.
        bar: from 1.
        fill: whether the fill lies in it.
        start_seconds: in the take.
        bpm: as played.
        lag: of its main strokes, in milliseconds; None with none heard.
    """

    turn: int
    bar: int
    fill: bool
    start_seconds: float
    bpm: float
    lag: Statistics | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GraceReport:
    """A flam, or one of the grace notes of a drag.

    Attributes:
        turn: which time through, from 1.
        bar: from 1.
        beat: of the main note.
        surface: of the main note.
        kind: "flam" or "drag".
        place: which of the grace notes, from 1.
        written_gap_ms: how far ahead it is written.
        gap_ms: how far ahead it was played.
    """

    turn: int
    bar: int
    beat: float
    surface: str
    kind: str
    place: int
    written_gap_ms: float
    gap_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RollReport:
    """Strokes of the fill in a row at one interval: how even they are.

    Attributes:
        turn: which time through, from 1.
        bar: where it starts, from 1.
        strokes: how many.
        interval_ms: as played, and its spread.
        level_db: of its taps against the usual, and their spread; None with too few.
    """

    turn: int
    bar: int
    strokes: int
    interval_ms: Statistics
    level_db: Statistics | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandReport:
    """One hand in the fill: its lag round the fill's own line, in milliseconds, and its loudness."""

    lag_ms: Statistics
    level_db: Statistics | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandDifference:
    """Right hand less left hand, and the standard error of that."""

    value: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HandsReport:
    """The hands beside each other.

    Attributes:
        right: None where it has too few strokes.
        left: the same.
        lag_ms: right less left on drums that both play; None with too few strokes.
        level_db: the same for loudness.
        pooled: whether there were enough strokes to call a difference the hand's own.
    """

    right: HandReport | None
    left: HandReport | None
    lag_ms: HandDifference | None
    level_db: HandDifference | None
    pooled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RepetitionReport:
    """One time through: its tempo, how the fill and the landing went."""

    turn: int
    start_seconds: float
    groove_bpm: float
    drift_percent: float | None
    rush_percent: float | None
    rush_error_percent: float | None
    landing_lag_ms: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """Everything that is said of a take in numbers.

    Attributes:
        refused: "" or why nothing is scored: a word of `Match.refused`, "too few" or "clipped".
        tempo_asked: in the meter's beats a minute.
        tempo_found: as played; None where nothing fits.
        beat_ms: length of a beat of the meter as asked.
        seconds: how long the take is.
        strokes: every written stroke of every pass, in order.
        extra: strokes that nobody wrote.
        bars: of every pass.
        passes: every time through.
        rush_percent: how much faster the fill is than the groove, over all passes; None where unknown.
        rush_error_percent: its standard error.
        landing_ms: lag of the landings, None without one.
        groove_ms: lag of the groove's main strokes.
        fill_ms: scatter of the fill's main strokes round the fill's own line; its mean is 0.
        graces: flams and drags.
        rolls: even rows of the fill.
        accent_db: accents less taps, on drums that have both; None with too few.
        ghost_db: ghost notes less taps, the same way.
        hands: the hands beside each other.
        clipped: whether the recording is overdriven, so that no loudness is judged.
        share_matched: part of the main strokes that were found.
        from_midi: whether the take is an electronic kit's, so that times and drums are facts.
        swing: how the groove's eighths are played; where it is not as written, landing and scatter say nothing.
        doubtful: whether another phrase than the written one may have been played.
    """

    refused: str
    tempo_asked: float
    tempo_found: float | None
    beat_ms: float
    seconds: float
    strokes: tuple[StrokeReport, ...] = ()
    extra: tuple[ExtraReport, ...] = ()
    bars: tuple[BarReport, ...] = ()
    passes: tuple[RepetitionReport, ...] = ()
    rush_percent: float | None = None
    rush_error_percent: float | None = None
    landing_ms: Statistics | None = None
    groove_ms: Statistics | None = None
    fill_ms: Statistics | None = None
    graces: tuple[GraceReport, ...] = ()
    rolls: tuple[RollReport, ...] = ()
    accent_db: float | None = None
    ghost_db: float | None = None
    hands: HandsReport | None = None
    clipped: bool = False
    share_matched: float = 0.0
    from_midi: bool = False
    swing: Swing = Swing.WRITTEN
    doubtful: bool = False

    @property
    def missing(self) -> tuple[StrokeReport, ...]:
        """Strokes that would have been heard and were not."""
        return tuple(stroke for stroke in self.strokes if stroke.outcome is Outcome.MISSING)

    @property
    def unheard(self) -> tuple[StrokeReport, ...]:
        """Strokes that could not have been heard in this recording."""
        return tuple(stroke for stroke in self.strokes if stroke.outcome is Outcome.UNHEARD)

    @property
    def wrong_surface(self) -> tuple[StrokeReport, ...]:
        """Strokes on another surface than the written one, where that is sure enough to say."""
        return tuple(
            stroke
            for stroke in self.strokes
            if stroke.played
            and stroke.surface_heard not in ("", stroke.surface)
            and stroke.surface_trust >= limit("surface.trust")
        )

    @property
    def tempo_played(self) -> float | None:
        """Beats a minute of the grooves, over all passes."""
        if not self.passes:
            return self.tempo_found
        return sum(one.groove_bpm for one in self.passes) / len(self.passes)
