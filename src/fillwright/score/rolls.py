"""Rolls abbreviated: doubles in thirty-seconds as one longer note with strokes through the stem."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import groupby

from fillwright.music.hit import Hit
from fillwright.music.stroke import Kind, Level

_FAST = Fraction(1, 32)
_BEAT = Fraction(1, 4)
_SHORTEST_RUN = 4


def shorten_rolls(hits: list[Hit]) -> tuple[list[Hit], dict[Fraction, int]]:
    """Runs of doubles in thirty-seconds on one surface, each as one note a beat.

    Args:
        hits: of the hands in one bar, ascending.

    Returns:
        The hits that are left to write, and the strokes through the stem by place.
    """
    kept: list[Hit] = []
    slashes: dict[Fraction, int] = {}
    for _, group in groupby(hits, key=_run_key):
        run = list(group)
        length = sum((hit.length for hit in run), Fraction(0))
        if _is_roll(run) and length.denominator in (4, 8) and length.numerator == 1:
            kept.append(replace(run[0], length=length))
            slashes[run[0].at] = 3 if length == _BEAT else 2
        else:
            kept += run
    return kept, slashes


def _run_key(hit: Hit) -> tuple[object, ...]:
    plain = hit.stroke.kind is Kind.SINGLE and hit.stroke.level is Level.TAP and hit.length == _FAST
    return (hit.at // _BEAT, hit.surface.name) if plain else (hit.at, hit.surface.name, "alone")


def _is_roll(run: list[Hit]) -> bool:
    if len(run) < _SHORTEST_RUN:
        return False
    pairs = zip(run[::2], run[1::2], strict=False)
    return len(run) % 2 == 0 and all(first.stroke.hand is second.stroke.hand for first, second in pairs)
