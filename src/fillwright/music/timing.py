"""From exact places to seconds: the one room where a phrase and a tempo become floats."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction

from fillwright.errors import TempoError
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.phrase import Phrase
from fillwright.music.stroke import Kind, Limb

SLOWEST, FASTEST = 20, 400
"""Tempos that can be written and played, in beats a minute."""

FLAM_MS = 25.0
"""How far a flam's grace note stands ahead of the main note (common practice, no source)."""

GRACE_SPACINGS = {Kind.FLAM: (1.0,), Kind.DRAG: (2.4, 1.2)}
"""How far grace notes stand ahead, in flams' distances (common practice, no source)."""

_STRAIGHT = Fraction(1, 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Feel:
    """How written time is played.

    Attributes:
        swing: where the second of two eighths falls in its beat: 1/2 straight, 2/3 a triplet's swing.
        flam_ms: distance of a flam's grace note from the main note.
    """

    swing: Fraction = _STRAIGHT
    flam_ms: float = FLAM_MS

    def __post_init__(self) -> None:
        """Refuse what can't be played."""
        if not _STRAIGHT <= self.swing <= Fraction(3, 4):
            raise TempoError(f"A swing of {self.swing} can't be played; it lies between 1/2 and 3/4.")
        if not 5 <= self.flam_ms <= 80:
            raise TempoError(f"A flam of {self.flam_ms:g} ms can't be played; it lies between 5 and 80 ms.")


STRAIGHT = Feel()


def read_feel(swing: str, flam_ms: float) -> Feel:
    """A feel from words: the swing as a fraction or a decimal.

    Raises:
        TempoError: for a swing that can't be read or played.

    >>> read_feel("0.667", 25).swing
    Fraction(2, 3)
    """
    match = re.fullmatch(r"\d{1,4}/0*[1-9]\d{0,3}|\d?\.\d{1,9}|\d", swing.strip())
    if match is None:
        raise TempoError(f'"{swing[:20]}" is not a swing; write for example 2/3 or 0.6.')
    place = Fraction(match[0])
    near = place.limit_denominator(24)
    return Feel(swing=near if abs(near - place) <= Fraction(1, 1000) else place, flam_ms=flam_ms)


@dataclass(frozen=True, slots=True, kw_only=True)
class Timed:
    """A hit in seconds.

    Attributes:
        hit: placed in whole notes from the start of the phrase.
        onset_seconds: its main note, from the start of the phrase.
        length_seconds: the time up to the next stroke of its line.
        grace_seconds: onsets of its grace notes, ascending, all before the main note. A grace note on the
            first stroke of a phrase is negative.
    """

    hit: Hit
    onset_seconds: float
    length_seconds: float
    grace_seconds: tuple[float, ...] = ()


def check_tempo(tempo: float) -> float:
    """The tempo, if it can be played.

    Raises:
        TempoError: outside 20 to 400 beats a minute.
    """
    if not SLOWEST <= tempo <= FASTEST:
        raise TempoError(f"A tempo of {tempo:g} can't be played; it lies between {SLOWEST} and {FASTEST}.")
    return tempo


def whole_note_seconds(meter: Meter, tempo: float) -> float:
    """Length of a whole note at a tempo in the meter's beats a minute.

    Raises:
        TempoError: outside 20 to 400 beats a minute.

    >>> from fillwright.music.meter import meter
    >>> whole_note_seconds(meter("4/4"), 60)
    4.0
    """
    return 60.0 / check_tempo(tempo) / float(meter.tempo_unit)


def timeline(phrase: Phrase, tempo: float, feel: Feel = STRAIGHT) -> tuple[Timed, ...]:
    """Every hit of a phrase in seconds from the start of the phrase, ascending.

    Args:
        phrase: what is played.
        tempo: in the meter's beats a minute.
        feel: swing and flams.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    whole = whole_note_seconds(phrase.meter, tempo)
    hits = tuple(phrase.hits())
    swung = _swung_beats(hits, phrase.meter, feel)
    last: dict[Limb, float] = {}
    made = []
    for hit in hits:
        onset = float(_played_at(hit.at, swung, feel)) * whole
        end = float(_played_at(hit.at + hit.length, swung, feel)) * whole
        hand = hit.stroke.hand
        graces: tuple[float, ...] = ()
        if hit.stroke.kind.graces:
            graces = _graces(hit.stroke.kind, onset, last.get(hand.other), feel)
            last[hand.other] = onset
        last[hand] = onset
        made.append(Timed(hit=hit, onset_seconds=onset, length_seconds=end - onset, grace_seconds=graces))
    return tuple(made)


def clock(phrase: Phrase, tempo: float, feel: Feel = STRAIGHT) -> Callable[[Fraction], float]:
    """How any place of a phrase becomes seconds, for what goes along with it: a click, a cursor.

    Where something is struck it agrees with `timeline`; a beat without strokes swings if the feel does. Places
    before the phrase are negative.

    Args:
        phrase: what is played.
        tempo: in the meter's beats a minute.
        feel: swing and flams.

    Returns:
        A function from whole notes to seconds, both from the start of the phrase.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    whole = whole_note_seconds(phrase.meter, tempo)
    hits = tuple(phrase.hits())
    struck = frozenset(_beat_of(hit.at) for hit in hits)
    straight = struck - _swung_beats(hits, phrase.meter, feel)
    swings = not phrase.meter.counts_eighths

    def seconds(at: Fraction) -> float:
        start = _beat_of(at)
        swung = frozenset((start,)) if swings and start not in straight else frozenset()
        return float(_played_at(at, swung, feel)) * whole

    return seconds


def _graces(kind: Kind, onset: float, previous: float | None, feel: Feel) -> tuple[float, ...]:
    """Places of grace notes, pulled together where the hand that plays them has no time for more."""
    ahead = [factor * feel.flam_ms / 1000 for factor in GRACE_SPACINGS[kind]]
    if previous is not None:
        room = (onset - previous) / 3
        squeeze = min(1.0, room / ahead[0])
        ahead = [distance * squeeze for distance in ahead]
    return tuple(onset - distance for distance in ahead)


def _swung_beats(hits: Iterable[Hit], meter: Meter, feel: Feel) -> frozenset[Fraction]:
    """Starts of the beats that swing: those with no stroke but on the beat and its half."""
    if feel.swing == _STRAIGHT or meter.counts_eighths:
        return frozenset()
    by_beat: dict[Fraction, set[Fraction]] = {}
    for hit in hits:
        start = _beat_of(hit.at)
        by_beat.setdefault(start, set()).add((hit.at - start) * 4)
    halves = {Fraction(0), _STRAIGHT}
    return frozenset(start for start, parts in by_beat.items() if parts <= halves)


def _beat_of(at: Fraction) -> Fraction:
    return at - at % Fraction(1, 4)


def _played_at(at: Fraction, swung: frozenset[Fraction], feel: Feel) -> Fraction:
    """A written place as played: the second eighth of a swung beat moves, and what lies around it stretches.

    Only the end of a stroke can lie elsewhere in a swung beat; stretching keeps it behind the stroke's start.
    """
    start = _beat_of(at)
    if start not in swung:
        return at
    part = (at - start) * 4
    if part <= _STRAIGHT:
        return start + part * 2 * feel.swing / 4
    return start + (feel.swing + (part - _STRAIGHT) * 2 * (1 - feel.swing)) / 4
