"""Four strokes on each surface of a take's kit, recorded as the take was: a student's calibration."""

from __future__ import annotations

from dataclasses import replace
from zlib import crc32

import numpy as np
import numpy.typing as npt

from bench.listening.kits import KITS, LEAD, RATE, bank_of
from bench.listening.rooms import BUSES, CONDITIONS, bus_of
from bench.listening.takes import Take
from fillwright.listen.calibration import Calibration
from fillwright.listen.onsets.detect import detect_onsets
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike

_DRUMS = ("snare", "high tom", "mid tom", "floor tom", "kick", "hi-hat")
_VELOCITIES = (76, 92, 84, 108)
_APART_SECONDS, _BETWEEN_SECONDS = 1.0, 2.5
_NEAR_SECONDS = 0.03


def calibration_of(take: Take, split: str, number: int) -> Calibration:
    """A calibration for a take: the same kit, room and microphone; its own noise.

    Args:
        take: the take.
        split: of the take.
        number: of the take in its split.
    """
    names = tuple(dict.fromkeys((*_DRUMS, *sorted({one.surface for one in take.expected.strokes}))))
    strikes: list[Strike] = []
    at = 0.5
    for name in names:
        for velocity in _VELOCITIES:
            strikes.append(Strike(name=name, onset_seconds=at, velocity=velocity))
            at += _APART_SECONDS
        at += _BETWEEN_SECONDS - _APART_SECONDS
    recorder = np.random.default_rng([crc32(take.condition.encode()), crc32(split.encode()), number])
    samples, rate = CONDITIONS[take.condition](_buses(take.kit, strikes, at), (), recorder)
    heard = detect_onsets((samples / np.abs(samples).max() * 0.5).astype(np.float32), rate)
    found = {}
    for name in names:
        own = [strike.onset_seconds for strike in strikes if strike.name == name]
        near = [min(heard.onsets, key=lambda one: abs(one.seconds - place)) for place in own]
        found[name] = tuple(
            one for one, place in zip(near, own, strict=True) if abs(one.seconds - place) < _NEAR_SECONDS
        )
    return Calibration(strokes={name: onsets for name, onsets in found.items() if len(onsets) > 1})


def _buses(kit: str, strikes: list[Strike], seconds: float) -> dict[str, npt.NDArray[np.float64]]:
    bank = bank_of(next(one for one in KITS if one.name == kit))
    made = {}
    for bus in BUSES:
        own = [
            replace(one, onset_seconds=one.onset_seconds - LEAD / RATE)
            for one in strikes
            if bus_of(one.name) == bus
        ]
        if own:
            made[bus] = mix(own, samples=round(seconds * RATE), bank=bank).mean(axis=1).astype(np.float64)
    return made
