"""Mixing in a ring: what would ring beyond the end goes on at the start, grace notes before it at the end."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fillwright.sound.model.bank import SoundBank, default_bank
from fillwright.sound.model.instrument import Samples
from fillwright.sound.model.modal import RATE
from fillwright.sound.playalong.mix import choked, chosen, cut
from fillwright.sound.playalong.strikes import Strike


def mixed_loop(played: Sequence[Strike], samples: int, *, bank: SoundBank | None = None) -> Samples:
    """Sum sounds in a ring of exactly so many samples.

    Played round and round it is what would be heard of one turn after the other without an end: an open hi-hat
    at the end of a turn is shut by the next turn's first stroke as well.

    Args:
        played: one turn, ascending in time; before 0 is the end of the turn before.
        samples: length of a turn.
        bank: where the sounds come from; the modelled kit by default.

    Returns:
        Stereo samples, shape (samples, 2), at the kit's fixed level.
    """
    source = default_bank() if bank is None else bank
    places = [round(strike.onset_seconds * RATE) for strike in played]
    shots = chosen(played, source)
    for index, place in _choked_on(played, places, samples, source).items():
        shots[index] = cut(shots[index], place - places[index])
    out = np.zeros((samples, 2), np.float32)
    for place, shot in zip(places, shots, strict=True):
        _add(out, place % samples, shot)
    return out


def _choked_on(
    played: Sequence[Strike], places: Sequence[int], samples: int, bank: SoundBank
) -> dict[int, int]:
    """Strikes of a turn that are choked, in it or by the turn after, each with the sample where that is."""
    two = [(place + turn * samples, turn, index) for turn in (0, 1) for index, place in enumerate(places)]
    two.sort()
    found = choked([played[index] for _, _, index in two], [place for place, _, _ in two], bank)
    return {two[number][2]: place for number, place in found.items() if two[number][1] == 0}


def _add(out: Samples, start: int, shot: Samples) -> None:
    while len(shot):
        part = out[start : start + len(shot)]
        part += shot[: len(part)]
        shot, start = shot[len(part) :], 0
