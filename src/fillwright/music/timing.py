"""Seconds: the one module that turns a phrase and a tempo into floats."""

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
"""Tempos that can be written and played, in bpm; ours, not measured."""

FLAM_MS = 25.0
"""Time from a flam's grace note to the main note, in ms (common practice, no source)."""

GRACE_SPACINGS = {Kind.FLAM: (1.0,), Kind.DRAG: (2.4, 1.2)}
"""Time from each grace note to the main note, in units of a flam's (common practice, no source)."""

_STRAIGHT = Fraction(1, 2)  # place of the second of two straight eighths, in beats


@dataclass(frozen=True, slots=True, kw_only=True)
class Feel:
    """Swing and flam time: how written time is played.

    Attributes:
        swing: place of the second of two eighths in its beat: 1/2 straight, 2/3 triplet swing.
        flam_ms: time from a flam's grace note to the main note.
    """

    swing: Fraction = _STRAIGHT
    flam_ms: float = FLAM_MS

    def __post_init__(self) -> None:
        """Refuse a swing or flam that can't be played.

        Raises:
            TempoError: for a swing outside 1/2 to 3/4 or a flam outside 5 to 80 ms.
        """
        if not _STRAIGHT <= self.swing <= Fraction(3, 4):
            raise TempoError(f"A swing of {self.swing} can't be played; use 1/2 to 3/4.")
        if not 5 <= self.flam_ms <= 80:
            raise TempoError(f"A flam of {self.flam_ms:g} ms can't be played; use 5 to 80 ms.")


STRAIGHT = Feel()


def parse_feel(swing: str, flam_ms: float) -> Feel:
    """Read a feel; the swing is a fraction or a decimal.

    Raises:
        TempoError: for a swing that can't be read or played.

    >>> parse_feel("0.667", 25).swing
    Fraction(2, 3)
    """
    match = re.fullmatch(r"\d{1,4}/0*[1-9]\d{0,3}|\d?\.\d{1,9}|\d", swing.strip())
    if match is None:
        raise TempoError(f'"{swing[:20]}" is not a swing; write for example 2/3 or 0.6.')
    written = Fraction(match[0])
    near = written.limit_denominator(24)
    return Feel(swing=near if abs(near - written) <= Fraction(1, 1000) else written, flam_ms=flam_ms)


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedHit:
    """A hit in seconds.

    Attributes:
        hit: placed in whole notes from the start of the phrase.
        onset_seconds: onset of its main note, from the start of the phrase.
        length_seconds: the time up to the next stroke of its line.
        grace_seconds: onsets of its grace notes, ascending, all before the main note. A grace note on the
            first stroke of a phrase is negative.
    """

    hit: Hit
    onset_seconds: float
    length_seconds: float
    grace_seconds: tuple[float, ...] = ()


def check_tempo(tempo: float) -> float:
    """Return the tempo if it can be played.

    Raises:
        TempoError: outside 20 to 400 bpm.
    """
    if not SLOWEST <= tempo <= FASTEST:
        raise TempoError(f"A tempo of {tempo:g} bpm can't be played; use {SLOWEST} to {FASTEST} bpm.")
    return tempo


def whole_note_seconds(meter: Meter, tempo: float) -> float:
    """Return the length of a whole note in seconds, at a tempo in the meter's beats per minute.

    Raises:
        TempoError: outside 20 to 400 bpm.

    >>> from fillwright.music.meter import find_meter
    >>> whole_note_seconds(find_meter("4/4"), 60)
    4.0
    """
    return 60.0 / check_tempo(tempo) / float(meter.tempo_unit)


def time_phrase(phrase: Phrase, tempo: float, feel: Feel = STRAIGHT) -> tuple[TimedHit, ...]:
    """Return every hit of a phrase in seconds from its start, ascending.

    Args:
        phrase: the music.
        tempo: in the meter's beats per minute.
        feel: swing and flams.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    whole_seconds = whole_note_seconds(phrase.meter, tempo)
    hits = tuple(phrase.hits())
    swung = _find_swung_beats(hits, phrase.meter, feel)
    last: dict[Limb, float] = {}
    timed = []
    for hit in hits:
        onset = float(_swing_place(hit.at, swung, feel)) * whole_seconds
        end = float(_swing_place(hit.at + hit.length, swung, feel)) * whole_seconds
        hand = hit.stroke.hand
        graces: tuple[float, ...] = ()
        if hit.stroke.kind.graces:
            graces = _time_graces(hit.stroke.kind, onset, last.get(hand.other), feel)
            last[hand.other] = onset
        last[hand] = onset
        timed.append(TimedHit(hit=hit, onset_seconds=onset, length_seconds=end - onset, grace_seconds=graces))
    return tuple(timed)


def make_clock(phrase: Phrase, tempo: float, feel: Feel = STRAIGHT) -> Callable[[Fraction], float]:
    """Make the function that turns any place of a phrase into seconds, for a click or a cursor.

    At a stroke it agrees with `time_phrase`; a beat without strokes swings if the feel does. Places
    before the phrase are negative.

    Args:
        phrase: the music.
        tempo: in the meter's beats per minute.
        feel: swing and flams.

    Returns:
        A function from whole notes to seconds, both from the start of the phrase.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    whole_seconds = whole_note_seconds(phrase.meter, tempo)
    hits = tuple(phrase.hits())
    struck = frozenset(_find_beat(hit.at) for hit in hits)
    straight = struck - _find_swung_beats(hits, phrase.meter, feel)
    swings = not phrase.meter.counts_eighths

    def seconds(at: Fraction) -> float:
        start = _find_beat(at)
        swung = frozenset((start,)) if swings and start not in straight else frozenset()
        return float(_swing_place(at, swung, feel)) * whole_seconds

    return seconds


def _time_graces(kind: Kind, onset: float, previous: float | None, feel: Feel) -> tuple[float, ...]:
    """Return the onsets of grace notes in seconds, closer together where their hand has too little time."""
    ahead = [factor * feel.flam_ms / 1000 for factor in GRACE_SPACINGS[kind]]
    if previous is not None:
        longest = (onset - previous) / 3
        share = min(1.0, longest / ahead[0])
        ahead = [seconds * share for seconds in ahead]
    return tuple(onset - seconds for seconds in ahead)


def _find_swung_beats(hits: Iterable[Hit], meter: Meter, feel: Feel) -> frozenset[Fraction]:
    """Return the starts of the beats that swing: those with strokes only on the beat and its half."""
    if feel.swing == _STRAIGHT or meter.counts_eighths:
        return frozenset()
    by_beat: dict[Fraction, set[Fraction]] = {}
    for hit in hits:
        start = _find_beat(hit.at)
        by_beat.setdefault(start, set()).add((hit.at - start) * 4)
    halves = {Fraction(0), _STRAIGHT}
    return frozenset(start for start, parts in by_beat.items() if parts <= halves)


def _find_beat(at: Fraction) -> Fraction:
    return at - at % Fraction(1, 4)


def _swing_place(at: Fraction, swung: frozenset[Fraction], feel: Feel) -> Fraction:
    """Return a written place as played: the second eighth of a swung beat moves, and time around it stretches.

    Only the end of a stroke can be elsewhere in a swung beat; stretching keeps it after the stroke's start.
    """
    start = _find_beat(at)
    if start not in swung:
        return at
    share = (at - start) * 4
    if share <= _STRAIGHT:
        return start + share * 2 * feel.swing / 4
    return start + (feel.swing + (share - _STRAIGHT) * 2 * (1 - feel.swing)) / 4
