"""What is written, as a listener needs it: every stroke of the phrase in seconds, grace notes included."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.music.stroke import Level


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """One stroke that should be heard.

    Attributes:
        seconds: at the intended tempo, from the start of the phrase; a grace note of its first
            stroke is negative.
        bar: number of its bar, from 0; the landing's bar included.
        surface: name of what is struck.
        level: accent, tap or ghost.
        velocity: 1 to 127.
        hand: "R", "L", "right foot" or "left foot"; "" where the file does not say.
        in_fill: whether it belongs to the fill.
        landing: whether it belongs to the landing.
        grace_of: index, among the strokes, of the main note whose grace note this is; None for a main note.
        buzz: whether it is pressed into the head, so that its bounces are heard behind it.
    """

    seconds: float
    bar: int
    surface: str
    level: Level
    velocity: int
    hand: str = ""
    in_fill: bool = False
    landing: bool = False
    grace_of: int | None = None
    buzz: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A written phrase at its intended tempo.

    Attributes:
        strokes: ascending in time; simultaneous ones stand side by side.
        bar_starts: seconds at which each bar starts, and the end of the last; ascending, at least two.
        beats: seconds of every beat, the landing's bar included.
        tempo: intended, in the meter's beats a minute.
    """

    strokes: tuple[Written, ...]
    bar_starts: tuple[float, ...]
    beats: tuple[float, ...]
    tempo: float
