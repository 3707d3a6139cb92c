"""Calibrations as a student makes them: four strokes on each surface, recorded as the take was."""

from __future__ import annotations

from dataclasses import replace
from zlib import crc32

import numpy as np
import numpy.typing as npt

from bench.listening.conditions import BUSES, CONDITIONS, find_bus
from bench.listening.kits import KITS, LEAD, RATE, load_bank
from bench.listening.takes import KnownTake
from fillwright.listen.calibration import Calibration
from fillwright.listen.onsets.detect import detect_onsets
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike

# All ours, not measured.
_SURFACES = ("snare", "high tom", "mid tom", "floor tom", "kick", "hi-hat")  # struck in every calibration
_VELOCITIES = (76, 92, 84, 108)  # MIDI velocities of the four strokes
_FIRST_SECONDS, _APART_SECONDS, _BETWEEN_SECONDS = 0.5, 1.0, 2.5  # start, and time after a stroke and a surface
_NEAR_SECONDS = 0.03  # an onset nearer than this to a stroke is that stroke's


def record_calibration(take: KnownTake, split: str, number: int) -> Calibration:
    """Return a calibration for a take: the same kit, room and microphone; noise of its own.

    Args:
        take: the take.
        split: of the take.
        number: of the take in its split.
    """
    written = sorted({stroke.surface for stroke in take.written.strokes})
    names = tuple(dict.fromkeys((*_SURFACES, *written)))
    strikes: list[Strike] = []
    seconds = _FIRST_SECONDS
    for name in names:
        for velocity in _VELOCITIES:
            strikes.append(Strike(name=name, onset_seconds=seconds, velocity=velocity))
            seconds += _APART_SECONDS
        seconds += _BETWEEN_SECONDS - _APART_SECONDS
    chance = np.random.default_rng([crc32(take.condition.encode()), crc32(split.encode()), number])
    samples, rate = CONDITIONS[take.condition](_mix_buses(take.kit, strikes, seconds), (), chance)
    detected = detect_onsets((samples / np.abs(samples).max() * 0.5).astype(np.float32), rate)
    by_name = {}
    for name in names:
        struck = [strike.onset_seconds for strike in strikes if strike.name == name]
        nearest = [min(detected.onsets, key=lambda onset: abs(onset.seconds - at)) for at in struck]
        by_name[name] = tuple(
            onset for onset, at in zip(nearest, struck, strict=True) if abs(onset.seconds - at) < _NEAR_SECONDS
        )
    return Calibration(strokes={name: onsets for name, onsets in by_name.items() if len(onsets) > 1})


def _mix_buses(kit_name: str, strikes: list[Strike], seconds: float) -> dict[str, npt.NDArray[np.float64]]:
    bank = load_bank(next(kit for kit in KITS if kit.name == kit_name))
    buses = {}
    for bus in BUSES:
        led = [
            replace(strike, onset_seconds=strike.onset_seconds - LEAD / RATE)
            for strike in strikes
            if find_bus(strike.name) == bus
        ]
        if led:
            buses[bus] = mix(led, samples=round(seconds * RATE), bank=bank).mean(axis=1).astype(np.float64)
    return buses
