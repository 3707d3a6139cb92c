"""A drum part as it was read: strokes in seconds and in bars, without hands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fillwright.craft.sticking.hands import UnassignedStroke
from fillwright.errors import FillwrightError

# Limits of a drum part that is read at once (ours, not measured).
MOST_BARS = 64
MOST_STROKES = 8000  # drum notes
MOST_CHANGES = 1000  # of tempo or meter

SLOWEST_BPM, FASTEST_BPM = (
    5.0,
    1000.0,
)  # quarters a minute that are read (ours, not measured)
_LANDING_BEAT = 1.25  # in beats from 1: a part that ends before it in its last bar hasn't that bar (ours)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartStroke:
    """A stroke and its place in the music.

    Attributes:
        struck: seconds, surface and velocity.
        bar: from 1.
        beat: from 1, in the lower number of the meter; 2.5 lies half-way between beats 2 and 3.
    """

    struck: UnassignedStroke
    bar: int
    beat: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DrumPart:
    """Everything that was read of a drum part.

    Attributes:
        strokes: in the order in which they sound.
        tempo: quarters a minute where the first stroke falls.
        meter: there, as written.
        recorded: whether the strokes lie where a player put them, and not on a grid.
        report: a sentence for each stroke that was merged, removed, unknown or read as something else.
    """

    strokes: tuple[PartStroke, ...]
    tempo: float
    meter: str
    recorded: bool
    report: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RawNote:
    """A note of a file, as it was read.

    Attributes:
        quarter: where it belongs, in quarters from the start of the file.
        surface: name of the surface.
        velocity: 1 to 127, 0 where it isn't known.
        ahead_seconds: how far before its place a grace note sounds.
    """

    quarter: float
    surface: str
    velocity: int
    ahead_seconds: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """Tempos and meters of a file.

    Attributes:
        tempos: quarters from the start, and quarters a minute from there on; the first at 0.
        meters: quarters from the start, and upper and lower number from there on; the first at 0.
    """

    tempos: tuple[tuple[float, float], ...] = ((0.0, 120.0),)
    meters: tuple[tuple[float, tuple[int, int]], ...] = ((0.0, (4, 4)),)

    def seconds(self, quarter: float) -> float:
        """Convert a place to seconds.

        >>> Clock(tempos=((0.0, 60.0), (2.0, 120.0))).seconds(3.0)
        2.5
        """
        total = 0.0
        for number, (start, tempo) in enumerate(self.tempos):
            end = self.tempos[number + 1][0] if number + 1 < len(self.tempos) else quarter
            total += max(0.0, min(end, quarter) - start) * 60.0 / tempo
        return total

    def tempo(self, quarter: float) -> float:
        """Return the quarters a minute at a place."""
        return max((change for change in self.tempos if change[0] <= quarter), key=lambda change: change[0])[1]

    def meter(self, quarter: float) -> tuple[int, int]:
        """Return upper and lower number at a place."""
        return max((change for change in self.meters if change[0] <= quarter), key=lambda change: change[0])[1]

    def locate(self, quarter: float) -> tuple[int, float]:
        """Locate the bar and beat of a place, both from 1.

        >>> Clock(meters=((0.0, (3, 4)),)).locate(4.5)
        (2, 2.5)
        """
        bars = 0
        for number, (start, (upper, lower)) in enumerate(self.meters):
            length = upper * 4.0 / lower
            end = self.meters[number + 1][0] if number + 1 < len(self.meters) else quarter + 1.0
            if quarter < end or number + 1 == len(self.meters):
                full_bars, rest = divmod(max(quarter - start, 0.0), length)
                return bars + int(full_bars) + 1, rest * lower / 4.0 + 1.0
            bars += max(1, round((end - start) / length))
        return bars + 1, 1.0


def check_part_tempo(tempo: float, where: str) -> float:
    """Return a tempo in quarters a minute that a drum part can have.

    Raises:
        FillwrightError: outside 5 to 1,000, or if it is not a number.
    """
    if not SLOWEST_BPM <= tempo <= FASTEST_BPM:
        raise FillwrightError(
            f"{where} has a tempo of {tempo:g}; use {SLOWEST_BPM:g} to {FASTEST_BPM:,g} quarters a minute."
        )
    return tempo


def check_size(strokes: Sequence[RawNote], clock: Clock, where: str) -> None:
    """Refuse a part without strokes, or longer than what is worked out at once.

    Raises:
        FillwrightError: with the size found and the size accepted.
    """
    if not strokes:
        raise FillwrightError(
            f"{where} has no drum notes; use MIDI with drums on channel 10 or MusicXML with unpitched notes."
        )
    if len(strokes) > MOST_STROKES:
        raise FillwrightError(f"{where} has {len(strokes):,} drum notes; use at most {MOST_STROKES:,}.")
    places = [note.quarter for note in strokes]
    last, beat = clock.locate(max(places))
    bars = last - clock.locate(min(places))[0] + (beat > _LANDING_BEAT)
    if bars > MOST_BARS:
        raise FillwrightError(
            f"{where} has {bars:,} bars of drums; cut it to the fill, at most {MOST_BARS} bars."
        )
