"""Options of a play-along: count-in, click, repeats, audible part, looseness."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from fillwright.errors import FillwrightError
from fillwright.music.timing import STRAIGHT, Feel

MOST_COUNT_IN_BARS = 2
"""Longest count-in, in bars; ours, not measured."""

MOST_REPEATS = 64
"""Highest number of repetitions of the phrase, to limit files to some minutes; ours, not measured."""


class Click(Enum):
    """Beats with a click; during the count-in there is always one.

    Backbeats are the second, fourth … beat of a bar. A fading click sounds on the beats, softer in each
    repetition of the phrase, and is silent in the last one.
    """

    OFF = "off"
    BEATS = "beats"
    EIGHTHS = "eighths"
    BACKBEATS = "backbeats"
    FADING = "fading"


class AudiblePart(Enum):
    """Part of the phrase that sounds: all, the groove alone, so that the student plays the fill, or the fill.

    The landing always sounds.
    """

    ALL = "all"
    GROOVE = "groove"
    FILL = "fill"


class Looseness(Enum):
    """Timing of the strokes: exactly as written, or with a good player's small deviations."""

    OFF = "off"
    SLIGHT = "slight"


class Shape(Enum):
    """Form of a file with one or more tempos.

    Apart: each tempo with its own count-in and landing, a gap between them. Climbing: one tempo after the other
    without a stop, one count-in and one landing. Loop: one tempo, without count-in and landing, to be played
    over and over.
    """

    APART = "apart"
    CLIMBING = "climbing"
    LOOP = "loop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """Options of a play-along.

    Attributes:
        count_in_bars: bars of clicks before the phrase, 0 to 2.
        click: beats with a click after the count-in.
        click_grid: True for three pitches of click: bar, beat and between beats.
        feel: swing and width of flams.
        repeats: repetitions of the phrase at a tempo, 1 to 64; the landing comes once, after the last.
        audible: part of the phrase that sounds.
        looseness: timing of the strokes.
        seed: seed of the looseness, from 0; the same seed gives the same deviations.
    """

    count_in_bars: int = 1
    click: Click = Click.OFF
    click_grid: bool = False
    feel: Feel = STRAIGHT
    repeats: int = 1
    audible: AudiblePart = AudiblePart.ALL
    looseness: Looseness = Looseness.OFF
    seed: int = 0

    def __post_init__(self) -> None:
        """Refuse what can't be rendered."""
        if not 0 <= self.count_in_bars <= MOST_COUNT_IN_BARS:
            raise FillwrightError(f"A count-in has 0 to {MOST_COUNT_IN_BARS} bars, not {self.count_in_bars}.")
        if not 1 <= self.repeats <= MOST_REPEATS:
            raise FillwrightError(f"A phrase can be played 1 to {MOST_REPEATS} times, not {self.repeats}.")
        if self.click is Click.FADING and self.repeats < 2:
            raise FillwrightError(
                f"A fading click needs repeats; have the phrase played 2 to {MOST_REPEATS} times."
            )
        if self.seed < 0:
            raise FillwrightError(f"{self.seed} is not a valid seed; use a whole number from 0.")


DEFAULT_OPTIONS = Options()
