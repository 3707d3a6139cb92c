"""What a teacher may ask of a play-along."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from fillwright.errors import FillwrightError
from fillwright.music.timing import STRAIGHT, Feel

MOST_COUNT_IN_BARS = 2
MOST_REPEATS = 64


class Click(Enum):
    """When a click sounds; during the count-in it always does.

    Backbeats are the second, fourth … beat of a bar. A fading click goes on the beats, softer each time the
    phrase comes round, and leaves the last time to the player.
    """

    OFF = "off"
    BEATS = "beats"
    EIGHTHS = "eighths"
    BACKBEATS = "backbeats"
    FADING = "fading"


class AudiblePart(Enum):
    """Which strokes sound: all, the groove alone so that the student plays the fill, or the fill alone.

    The landing always sounds.
    """

    ALL = "all"
    GROOVE = "groove"
    FILL = "fill"


class Looseness(Enum):
    """Whether strokes fall exactly where they are written, or a little off as a good player's do."""

    OFF = "off"
    SLIGHT = "slight"


class Shape(Enum):
    """How several tempos become one file.

    Apart: each with its own count-in and landing, a gap between them. Climbing: one after the other without a
    stop, one count-in and one landing. Loop: one tempo, without count-in or landing, to be played round and
    round.
    """

    APART = "apart"
    CLIMBING = "climbing"
    LOOP = "loop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """How a play-along is made.

    Attributes:
        count_in_bars: 0 to 2 bars of clicks before the phrase.
        click: whether the click goes on.
        click_grid: whether bar, beat and what lies between beats click at pitches of their own.
        feel: swing and flams.
        repeats: how often the phrase is played at a tempo; the landing comes once, at the very end.
        heard: which strokes sound.
        looseness: how exactly they fall.
        seed: of a loose player's deviations; the same seed plays the same again.
    """

    count_in_bars: int = 1
    click: Click = Click.OFF
    click_grid: bool = False
    feel: Feel = STRAIGHT
    repeats: int = 1
    heard: AudiblePart = AudiblePart.ALL
    looseness: Looseness = Looseness.OFF
    seed: int = 0

    def __post_init__(self) -> None:
        """Refuse what can't be rendered."""
        if not 0 <= self.count_in_bars <= MOST_COUNT_IN_BARS:
            raise FillwrightError(
                f"A count-in of {self.count_in_bars} bars can't be rendered; it has 0 to {MOST_COUNT_IN_BARS}."
            )
        if not 1 <= self.repeats <= MOST_REPEATS:
            raise FillwrightError(
                f"A phrase can't be played {self.repeats} times; it is played 1 to {MOST_REPEATS} times."
            )
        if self.click is Click.FADING and self.repeats < 2:
            raise FillwrightError(
                "A fading click needs repeats to fade over; have the phrase played 2 to 64 times."
            )
        if self.seed < 0:
            raise FillwrightError(f"{self.seed} is no seed; give a whole number from 0.")


DEFAULT_OPTIONS = Options()
