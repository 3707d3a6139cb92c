"""A drum part as it was read: strokes in seconds and in bars, without hands."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from fillwright import budget
from fillwright.craft.sticking.hands import UnassignedStroke
from fillwright.errors import FillwrightError

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


@dataclass(frozen=True, kw_only=True)
class Clock:
    """Tempos and meters of a file.

    Attributes:
        tempos: quarters from the start, and quarters a minute from there on; the first at 0.
        meters: quarters from the start, and upper and lower number from there on; the first at 0.
    """

    tempos: tuple[tuple[float, float], ...] = ((0.0, 120.0),)
    meters: tuple[tuple[float, tuple[int, int]], ...] = ((0.0, (4, 4)),)

    @cached_property
    def _tempo_starts(self) -> list[float]:
        return [start for start, _ in self.tempos]

    @cached_property
    def _meter_starts(self) -> list[float]:
        return [start for start, _ in self.meters]

    @cached_property
    def _seconds_before(self) -> list[float]:
        """Seconds from the start to each change of tempo."""
        before = [0.0]
        for (start, tempo), (end, _) in pairwise(self.tempos):
            before.append(before[-1] + (end - start) * 60.0 / tempo)
        return before

    @cached_property
    def _bars_before(self) -> list[int]:
        """Bars from the start to each change of meter."""
        before = [0]
        for (start, (upper, lower)), (end, _) in pairwise(self.meters):
            before.append(before[-1] + max(1, round((end - start) * lower / (upper * 4.0))))
        return before

    def seconds(self, quarter: float) -> float:
        """Convert a place to seconds.

        >>> Clock(tempos=((0.0, 60.0), (2.0, 120.0))).seconds(3.0)
        2.5
        """
        number = max(0, bisect_right(self._tempo_starts, quarter) - 1)
        start, tempo = self.tempos[number]
        return self._seconds_before[number] + max(0.0, quarter - start) * 60.0 / tempo

    def tempo(self, quarter: float) -> float:
        """Return the quarters a minute at a place."""
        return self.tempos[max(0, bisect_right(self._tempo_starts, quarter) - 1)][1]

    def meter(self, quarter: float) -> tuple[int, int]:
        """Return upper and lower number at a place."""
        return self.meters[max(0, bisect_right(self._meter_starts, quarter) - 1)][1]

    def locate(self, quarter: float) -> tuple[int, float]:
        """Locate the bar and beat of a place, both from 1.

        >>> Clock(meters=((0.0, (3, 4)),)).locate(4.5)
        (2, 2.5)
        """
        number = max(0, bisect_right(self._meter_starts, quarter) - 1)
        start, (upper, lower) = self.meters[number]
        full_bars, rest = divmod(max(quarter - start, 0.0), upper * 4.0 / lower)
        return self._bars_before[number] + int(full_bars) + 1, rest * lower / 4.0 + 1.0

    def list_bars(self, first: float, last: float) -> list[float]:
        """Return the starts of the bars from the first place's to the last place's, and the end of that.

        A bar is as long as its meter says, although the next change may come earlier. The bars before the first
        place are counted, not walked through.

        >>> Clock().list_bars(4001.0, 4005.0)
        [4000.0, 4004.0, 4008.0]
        """
        start = 0.0
        starts: list[float] = []
        while start <= last:
            upper, lower = self.meter(start)
            length = upper * 4.0 / lower
            number = bisect_right(self._meter_starts, start)
            change = self._meter_starts[number] if number < len(self._meter_starts) else first
            full_bars = int((min(change, first) - start) / length)
            if full_bars > 1:
                start += full_bars * length - length
            if start + length > first:
                starts.append(start)
            start += length
        return [*starts, start]


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
    budget.check_count(where, len(strokes), budget.STROKES, "drum notes")
    places = [note.quarter for note in strokes]
    last, beat = clock.locate(max(places))
    bars = last - clock.locate(min(places))[0] + (beat > _LANDING_BEAT)
    if bars > budget.BARS:
        raise FillwrightError(
            f"{where} has {bars:,} bars of drums; cut it to the fill, at most {budget.BARS} bars."
        )
    check_density((clock.seconds(note.quarter) - note.ahead_seconds for note in strokes), where)


def check_density(seconds: Iterable[float], where: str) -> None:
    """Refuse more strokes in a moment than anybody plays; the work on each of them grows with the others.

    Raises:
        FillwrightError: with the moment.
    """
    times = sorted(seconds)
    for start, end in zip(times, times[budget.MOMENT_STROKES :], strict=False):
        if end - start < budget.MOMENT_SECONDS:
            raise FillwrightError(
                f"{where} has more than {budget.MOMENT_STROKES} drum notes within {budget.MOMENT_SECONDS:g} s, "
                f"at {start:.2f} s; no one plays so many, so export it again."
            )


def check_meter(upper: int, lower: int, where: str) -> tuple[int, int]:
    """Return a meter that a drum part can have.

    Raises:
        FillwrightError: for numbers that no music has.
    """
    if not (1 <= upper <= budget.METER_UPPER and 1 <= lower <= budget.METER_LOWER):
        raise FillwrightError(
            f"{where} has a meter that can't be read; use numbers from 1 to {budget.METER_UPPER} over 1 to "
            f"{budget.METER_LOWER}."
        )
    return upper, lower


def check_place(quarter: float, where: str) -> float:
    """Return a place in quarters from the start that a file can have.

    Raises:
        FillwrightError: if it is too far, or not a number.
    """
    if not 0 <= quarter <= budget.QUARTERS:
        raise FillwrightError(
            f"{where} lasts longer than {budget.QUARTERS:,} quarter notes; cut out the music that is played."
        )
    return quarter


def check_changes(count: int, where: str) -> None:
    """Refuse too many changes of tempo or meter.

    Raises:
        FillwrightError: with the number that is accepted.
    """
    if count > budget.CHANGES:
        raise FillwrightError(
            f"{where} changes its tempo or meter more than {budget.CHANGES:,} times; "
            "use a part with fewer changes."
        )
