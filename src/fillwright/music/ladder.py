"""Tempo ladders: the tempos a fill is practised at, slow to fast."""

from __future__ import annotations

import re

from fillwright.errors import TempoError
from fillwright.music.timing import check_tempo

_LADDER = re.compile(r"([0-9]{1,9})\s*\.\.\s*([0-9]{1,9})\s+step\s+([0-9]{1,9})")
MAX_RUNGS = 40
"""The most tempos of a ladder; ours, not measured."""


def parse_ladder(text: str) -> tuple[int, ...]:
    """Read a tempo ladder and return its tempos in bpm.

    Grammar: `60..100 step 5` (both ends belong to it, even where the step misses the upper one), or single
    tempos separated by commas or spaces, each faster than the one before.

    Raises:
        TempoError: for a ladder that can't be read, has more than 40 tempos, or one that can't be played.

    >>> parse_ladder("60..100 step 15")
    (60, 75, 90, 100)
    >>> parse_ladder("60, 72")
    (60, 72)
    """
    match = _LADDER.fullmatch(text.strip())
    if match:
        low, high, step = (int(number) for number in match.groups())
        check_tempo(low)
        check_tempo(high)
        if step == 0 or low > high:
            raise TempoError(f'The tempo ladder "{text[:40]}" does not rise; write for example 60..100 step 5.')
        tempos = tuple(dict.fromkeys([*range(low, high, step), high]))
    else:
        words = text.replace(",", " ").split()
        if not words or not all(re.fullmatch(r"[0-9]{1,9}", word) for word in words):
            raise TempoError(
                f'"{text[:40]}" is not a tempo ladder; write for example 60..100 step 5, or 60, 72, 84.'
            )
        tempos = tuple(int(word) for word in words)
        for tempo in tempos:
            check_tempo(tempo)
        if sorted(set(tempos)) != list(tempos):
            raise TempoError(
                f'The tempo ladder "{text[:40]}" does not rise; write each tempo faster than the one before.'
            )
    if len(tempos) > MAX_RUNGS:
        raise TempoError(f"The tempo ladder has {len(tempos)} tempos; use at most {MAX_RUNGS}.")
    return tempos
