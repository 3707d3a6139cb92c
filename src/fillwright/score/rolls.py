"""Rolls abbreviated: doubles in thirty-seconds as one longer note with strokes through the stem."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, pairwise

from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.stroke import Kind, Level

_FAST = Fraction(1, 32)
_SLASHES = {Fraction(1, 8): 2, Fraction(1, 4): 3, Fraction(3, 8): 3}
"""Strokes through the stem that make thirty-seconds of a note, by its length: an eighth has a beam already."""


def shorten_rolls(hits: Iterable[Hit], meter: Meter) -> tuple[list[Hit], dict[Fraction, int]]:
    """Runs of doubles in thirty-seconds on one surface, each as one note that crosses no beat.

    Args:
        hits: of the hands in one bar, ascending.
        meter: of the bar.

    Returns:
        The hits that are left to write, and the strokes through the stem by place.
    """
    kept: list[Hit] = []
    slashes: dict[Fraction, int] = {}
    for _, group in groupby(hits, key=lambda hit: _run_key(hit, meter)):
        run = list(group)
        length = sum((hit.length for hit in run), Fraction(0))
        if length in _SLASHES and _is_roll(run) and _on_an_eighth(run[0].at, meter):
            kept.append(replace(run[0], length=length))
            slashes[run[0].at] = _SLASHES[length]
        else:
            kept += run
    return kept, slashes


def _beat_of(at: Fraction, meter: Meter) -> Fraction:
    return max(start for start in meter.beat_starts if start <= at)


def _on_an_eighth(at: Fraction, meter: Meter) -> bool:
    return (at - _beat_of(at, meter)) % Fraction(1, 8) == 0


def _run_key(hit: Hit, meter: Meter) -> tuple[object, ...]:
    plain = hit.stroke.kind is Kind.SINGLE and hit.stroke.level is Level.TAP and hit.length == _FAST
    return (_beat_of(hit.at, meter), hit.surface.name) if plain else (hit.at, hit.surface.name, "alone")


def _is_roll(run: list[Hit]) -> bool:
    """Whether hands play two strokes each, in turn and without a gap."""
    hands = [hit.stroke.hand for hit in run]
    doubles = hands[::2] == hands[1::2] and all(a is not b for a, b in pairwise(hands[::2]))
    return doubles and all(later.at - hit.at == _FAST for hit, later in pairwise(run))
