"""What counts as one onset, and what is not counted at all."""

from __future__ import annotations

from bench.listening.playing import Truth

_TOGETHER_SECONDS = 0.010
_BUZZ_FROM, _BUZZ_AFTER = 0.015, 0.020
_NEXT_BOUNCE_SECONDS = 0.05


def grouped(truth: Truth) -> tuple[tuple[float, ...], ...]:
    """Seconds of every attack that should be heard; what is struck within 10 ms is one."""
    made: list[list[float]] = []
    for one in truth.played:
        if one.role == "bounce":
            continue
        if made and one.seconds - made[-1][0] < _TOGETHER_SECONDS:
            made[-1].append(one.seconds)
        else:
            made.append([one.seconds])
    return tuple(tuple(group) for group in made)


def blurred(truth: Truth) -> tuple[tuple[float, float], ...]:
    """Spans of buzz strokes, in which bounces may be heard or not."""
    made: list[list[float]] = []
    for one in truth.played:
        if one.role != "bounce":
            continue
        if made and one.seconds - made[-1][1] < _NEXT_BOUNCE_SECONDS:
            made[-1][1] = one.seconds
        else:
            made.append([one.seconds - _BUZZ_FROM, one.seconds])
    return tuple((first, last + _BUZZ_AFTER) for first, last in made)
