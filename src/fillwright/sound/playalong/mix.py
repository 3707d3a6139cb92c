"""Mixing: one-shots summed, each at its exact sample."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol, runtime_checkable

import numpy as np

from fillwright.sound.model.bank import SoundBank, default_bank
from fillwright.sound.model.instrument import Samples
from fillwright.sound.model.modal import RATE
from fillwright.sound.playalong.strikes import Strike

CHOKE_SECONDS = 0.012
"""How long an open hi-hat goes on once the foot has shut it."""

_HATS = frozenset({"hi-hat", "open hi-hat", "foot hi-hat"})
_CHOKED_BY = dict.fromkeys(("open hi-hat", "hi-hat half-open", "foot hi-hat splash"), _HATS)


@runtime_checkable
class Choking(Protocol):
    """A bank with rules of its own beside what every mix chokes."""

    @property
    def choked_by(self) -> Mapping[str, frozenset[str]]:
        """The surfaces whose strokes stop a surface."""


def choke_rules(bank: SoundBank) -> Mapping[str, frozenset[str]]:
    """Which strokes stop which surface: the rules of every mix, and the bank's own."""
    rules = dict(_CHOKED_BY)
    if isinstance(bank, Choking):
        rules |= {name: rules.get(name, frozenset()) | others for name, others in bank.choked_by.items()}
    return rules


def mix(played: Sequence[Strike], *, samples: int | None = None, bank: SoundBank | None = None) -> Samples:
    """Sum sounds, the attack of each at round(onset_seconds * 44100).

    An open hi-hat ends, by a short fade, at the next stroke on the hi-hat by hand or foot.

    Args:
        played: ascending in time, none before 0.
        samples: how long the mix is; what rings beyond is cut. By default the mix is as long as its last sound.
        bank: where the sounds come from; the modelled kit by default.

    Returns:
        Stereo samples, shape (samples, 2), at the kit's fixed level.

    Raises:
        UnknownNameError: for a sound that the bank has not got.
        ValueError: for a strike before the start.
    """
    if played and played[0].onset_seconds < 0:
        raise ValueError(f"a strike at {played[0].onset_seconds} s lies before the start of the mix")
    source = default_bank() if bank is None else bank
    places = [round(strike.onset_seconds * RATE) for strike in played]
    shots = chosen(played, source)
    for index, place in choked(played, places, source).items():
        shots[index] = cut(shots[index], place - places[index])
    if samples is None:
        samples = max((place + len(shot) for place, shot in zip(places, shots, strict=True)), default=0)
    out = np.zeros((samples, 2), np.float32)
    for place, shot in zip(places, shots, strict=True):
        part = out[place : place + len(shot)]
        part += shot[: len(part)]
    return out


def chosen(played: Sequence[Strike], bank: SoundBank) -> list[Samples]:
    """The sound of every strike; strikes on one surface are counted so that neighbours differ."""
    counts: dict[str, int] = {}
    made = []
    for strike in played:
        index = counts.get(strike.name, 0)
        counts[strike.name] = index + 1
        shot = bank.shot(strike.name, strike.velocity, index)
        made.append(shot if strike.gain == 1.0 else shot * np.float32(strike.gain))
    return made


def choked(played: Sequence[Strike], places: Sequence[int], bank: SoundBank) -> dict[int, int]:
    """Strikes that are choked, by index, each with the sample of the next strike that stops it."""
    rules = choke_rules(bank)
    made: dict[int, int] = {}
    following: dict[str, int] = {}
    at_once: list[int] = []
    for index in reversed(range(len(played))):
        if at_once and places[at_once[0]] != places[index]:
            following.update((played[other].name, places[other]) for other in at_once)
            at_once = []
        at_once.append(index)
        stops = [following[name] for name in rules.get(played[index].name, ()) if name in following]
        if stops:
            made[index] = min(stops)
    return made


def cut(shot: Samples, at: int) -> Samples:
    """A sound up to a sample, then a short fade to zero."""
    if at >= len(shot):
        return shot
    fade = round(CHOKE_SECONDS * RATE)
    made = shot[: at + fade].copy()
    tail = made[at:]
    tail *= (np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32)) ** 2)[: len(tail), None]
    return made
