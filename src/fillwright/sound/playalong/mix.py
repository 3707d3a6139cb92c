"""Mixing: one-shots summed, each at its exact sample, once through or as a loop."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol, runtime_checkable

import numpy as np

from fillwright.sound.model.bank import SoundBank, default_bank
from fillwright.sound.playalong.strikes import Strike
from fillwright.sound.signal import SAMPLE_RATE, Samples

CHOKE_SECONDS = 0.012
"""Seconds that an open hi-hat goes on once the foot has closed it; ours, not measured."""

_HATS = frozenset({"hi-hat", "open hi-hat", "foot hi-hat"})
_CHOKED_BY = dict.fromkeys(("open hi-hat", "hi-hat half-open", "foot hi-hat splash"), _HATS)


@runtime_checkable
class ChokingBank(Protocol):
    """A bank with choke rules of its own, on top of those of every mix."""

    @property
    def choked_by(self) -> Mapping[str, frozenset[str]]:
        """For each surface, the surfaces whose strokes stop it."""


def collect_choke_rules(bank: SoundBank) -> Mapping[str, frozenset[str]]:
    """Return, for each surface, the surfaces whose strokes stop it: by every mix's rules and the bank's."""
    rules = dict(_CHOKED_BY)
    if isinstance(bank, ChokingBank):
        rules |= {name: rules.get(name, frozenset()) | stops for name, stops in bank.choked_by.items()}
    return rules


def mix(strikes: Sequence[Strike], *, samples: int | None = None, bank: SoundBank | None = None) -> Samples:
    """Sum sounds, the attack of each at round(onset_seconds * 44100).

    An open hi-hat ends, by a short fade, at the next stroke on the hi-hat by hand or foot.

    Args:
        strikes: ascending in time, none before 0.
        samples: length of the mix; longer sounds are cut off there. By default the mix is as long as its last
            sound.
        bank: source of the sounds; the modelled kit by default.

    Returns:
        Stereo samples, shape (samples, 2), at the kit's fixed level.

    Raises:
        UnknownNameError: for a sound that the bank doesn't have.
        ValueError: for a strike before the start.
    """
    if strikes and strikes[0].onset_seconds < 0:
        raise ValueError(f"a strike at {strikes[0].onset_seconds} s is before the start of the mix")
    source = default_bank() if bank is None else bank
    starts = _start_samples(strikes)
    shots = collect_shots(strikes, source)
    for index, stop in find_chokes(strikes, starts, source).items():
        shots[index] = cut_shot(shots[index], stop - starts[index])
    if samples is None:
        samples = max((start + len(shot) for start, shot in zip(starts, shots, strict=True)), default=0)
    out = np.zeros((samples, 2), np.float32)
    for start, shot in zip(starts, shots, strict=True):
        part = out[start : start + len(shot)]
        part += shot[: len(part)]
    return out


def mix_loop(strikes: Sequence[Strike], samples: int, *, bank: SoundBank | None = None) -> Samples:
    """Sum sounds into a loop of exactly so many samples.

    Sounds that last beyond the end go on at the start, and grace notes before the start sound at the end.
    Played over and over, the loop sounds like one repetition after the other: an open hi-hat at the end of a
    repetition is closed by the first stroke of the next.

    Args:
        strikes: one repetition, ascending in time; a time before 0 is at the end of the previous repetition.
        samples: length of a repetition.
        bank: source of the sounds; the modelled kit by default.

    Returns:
        Stereo samples, shape (samples, 2), at the kit's fixed level.
    """
    source = default_bank() if bank is None else bank
    starts = _start_samples(strikes)
    shots = collect_shots(strikes, source)
    for index, stop in _find_loop_chokes(strikes, starts, samples, source).items():
        shots[index] = cut_shot(shots[index], stop - starts[index])
    out = np.zeros((samples, 2), np.float32)
    for start, shot in zip(starts, shots, strict=True):
        _add_wrapped(out, start % samples, shot)
    return out


def _start_samples(strikes: Sequence[Strike]) -> list[int]:
    return [round(strike.onset_seconds * SAMPLE_RATE) for strike in strikes]


def collect_shots(strikes: Sequence[Strike], bank: SoundBank) -> list[Samples]:
    """Return the sound of every strike; strikes on one surface are numbered so that neighbours differ."""
    counts: dict[str, int] = {}
    shots = []
    for strike in strikes:
        index = counts.get(strike.name, 0)
        counts[strike.name] = index + 1
        shot = bank.get_shot(strike.name, strike.velocity, index)
        shots.append(shot if strike.gain == 1.0 else shot * np.float32(strike.gain))
    return shots


def find_chokes(strikes: Sequence[Strike], starts: Sequence[int], bank: SoundBank) -> dict[int, int]:
    """Return the strikes that are choked, by index, each with the sample of the next strike that stops it."""
    rules = collect_choke_rules(bank)
    chokes: dict[int, int] = {}
    following: dict[str, int] = {}
    at_once: list[int] = []
    for index in reversed(range(len(strikes))):
        if at_once and starts[at_once[0]] != starts[index]:
            following.update((strikes[other].name, starts[other]) for other in at_once)
            at_once = []
        at_once.append(index)
        stops = [following[name] for name in rules.get(strikes[index].name, ()) if name in following]
        if stops:
            chokes[index] = min(stops)
    return chokes


def _find_loop_chokes(
    strikes: Sequence[Strike], starts: Sequence[int], samples: int, bank: SoundBank
) -> dict[int, int]:
    """Return the strikes that their repetition or the next one chokes, each with the sample of its end."""
    twice = [(start + turn * samples, turn, index) for turn in (0, 1) for index, start in enumerate(starts)]
    twice.sort()
    chokes = find_chokes([strikes[index] for _, _, index in twice], [start for start, _, _ in twice], bank)
    return {twice[number][2]: stop for number, stop in chokes.items() if twice[number][1] == 0}


def cut_shot(shot: Samples, at: int) -> Samples:
    """Return a sound up to a sample, then a short fade to zero."""
    if at >= len(shot):
        return shot
    fade = round(CHOKE_SECONDS * SAMPLE_RATE)
    short = shot[: at + fade].copy()
    tail = short[at:]
    tail *= (np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32)) ** 2)[: len(tail), None]
    return short


def _add_wrapped(out: Samples, start: int, shot: Samples) -> None:
    """Add a sound from a sample on, round the end to the start as often as it takes."""
    while len(shot):
        part = out[start : start + len(shot)]
        part += shot[: len(part)]
        shot, start = shot[len(part) :], 0
