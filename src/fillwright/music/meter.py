"""Meters: how long a bar is and where its beats fall."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import accumulate

from fillwright.errors import UnknownNameError

_QUARTER = Fraction(1, 4)  # of a whole note
_DOTTED = Fraction(3, 8)  # a dotted quarter, of a whole note

# the length of each beat of a bar, in whole notes; 7/8 is felt 2+2+3 (common practice, no source)
_BEATS: dict[str, tuple[Fraction, ...]] = {
    "2/4": (_QUARTER,) * 2,
    "3/4": (_QUARTER,) * 3,
    "4/4": (_QUARTER,) * 4,
    "5/4": (_QUARTER,) * 5,
    "7/8": (_QUARTER, _QUARTER, _DOTTED),
    "6/8": (_DOTTED,) * 2,
    "9/8": (_DOTTED,) * 3,
    "12/8": (_DOTTED,) * 4,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """A time signature with its beats.

    Attributes:
        name: as written, "4/4".
        beats: length of each beat of a bar, in whole notes. In 6/8, 9/8 and 12/8 a beat is a dotted
            quarter; 7/8 is felt 2+2+3 (common practice, no source).
    """

    name: str
    beats: tuple[Fraction, ...]

    @property
    def numerator(self) -> int:
        """The upper number of the time signature."""
        return int(self.name.split("/")[0])

    @property
    def denominator(self) -> int:
        """The lower number of the time signature."""
        return int(self.name.split("/")[1])

    @property
    def bar(self) -> Fraction:
        """Length of a bar in whole notes."""
        return _sum(self.beats)

    @property
    def beat_starts(self) -> tuple[Fraction, ...]:
        """Start of each beat, in whole notes from the start of the bar."""
        return tuple(accumulate(self.beats[:-1], initial=Fraction(0)))

    @property
    def tempo_unit(self) -> Fraction:
        """The note value that a tempo counts: the dotted quarter where every beat is one, else the quarter."""
        return _DOTTED if self.counts_in_three else _QUARTER

    @property
    def counts_in_three(self) -> bool:
        """True where every beat is a dotted quarter."""
        return set(self.beats) == {_DOTTED}

    @property
    def counts_eighths(self) -> bool:
        """True where a player counts eighths (1 to 6 in 6/8, 1 to 7 in 7/8) and not quarters."""
        return self.denominator == 8

    def measure_beats(self, beats: Fraction) -> Fraction:
        """Return the length in whole notes of the last beats of a bar, or of several bars.

        A fraction of a beat is taken from the beat before: 2.5 beats of 4/4 start an eighth before beat 3.

        >>> find_meter("4/4").measure_beats(Fraction(5, 2))
        Fraction(5, 8)
        >>> find_meter("7/8").measure_beats(Fraction(1))
        Fraction(3, 8)
        """
        bars, rest = divmod(beats, len(self.beats))
        length = bars * self.bar
        for beat in reversed(self.beats):
            share = min(rest, Fraction(1))
            length += share * beat
            rest -= share
        return length

    def count_beats(self, length: Fraction) -> Fraction:
        """Return how many last beats take a length in whole notes: the inverse of `measure_beats`.

        >>> find_meter("7/8").count_beats(Fraction(5, 8))
        Fraction(2, 1)
        """
        bars, rest = divmod(length, self.bar)
        beats = Fraction(bars * len(self.beats))
        for beat in reversed(self.beats):
            part = min(rest, beat)
            beats += part / beat
            rest -= part
        return beats


@cache
def _sum(beats: tuple[Fraction, ...]) -> Fraction:
    """Add up the beats of a bar, once for each meter: every note asks for the sum."""
    return sum(beats, Fraction(0))


def find_meter(name: str) -> Meter:
    """Return the meter of that name.

    Raises:
        UnknownNameError: for a meter that the project does not write.

    >>> find_meter("7/8").bar
    Fraction(7, 8)
    """
    if name not in _BEATS:
        raise UnknownNameError.of("meter", name, _BEATS)
    return Meter(name=name, beats=_BEATS[name])


def list_meters() -> tuple[str, ...]:
    """Return the name of every meter that the project writes."""
    return tuple(_BEATS)
