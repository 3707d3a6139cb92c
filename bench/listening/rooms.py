"""Where and how a take is recorded: rooms, noise, phones, overload, a click in the background.

Every condition keeps the truth: the direct sound of every drum stays where it was placed, and the delay
of a codec is taken out by the lag at which its output fits its input best.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction

import av
import numpy as np
import numpy.typing as npt
from scipy.signal import oaconvolve

from bench.listening.kits import RATE

Floats = npt.NDArray[np.float64]

_SPEED_OF_SOUND = 343.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """A room: how long it rings, and its size in metres."""

    ring_seconds: float
    size_m: tuple[float, float, float]


ROOMS = (
    Room(ring_seconds=0.25, size_m=(3.1, 2.6, 2.4)),
    Room(ring_seconds=0.45, size_m=(5.2, 4.1, 2.7)),
    Room(ring_seconds=0.7, size_m=(8.3, 6.1, 3.2)),
)
_KIT_PLAN_M = {
    "kick": (0.0, 0.4, 0.3),
    "snare": (0.2, 0.0, 0.7),
    "toms": (-0.3, 0.5, 0.9),
    "cymbals": (0.5, 0.7, 1.2),
}
BUSES = tuple(_KIT_PLAN_M)


def bus_of(surface: str) -> str:
    """Which part of the kit a surface belongs to."""
    if surface in ("kick", "snare"):
        return surface
    if surface == "rim":
        return "snare"
    return "toms" if surface.endswith("tom") else "cymbals"


def response(room: Room, away_m: float, bus: str, chance: np.random.Generator) -> Floats:
    """What a room answers to a click from one part of the kit; the direct sound is sample 0 and 1 high."""
    size = np.array(room.size_m)
    source = 0.3 * size + np.array(_KIT_PLAN_M[bus])
    source[2] = _KIT_PLAN_M[bus][2]
    ear = source + away_m * np.array([0.75, 0.6, 0.28])
    ear = np.minimum(ear, size - 0.2)
    made = _reflections(size, source, ear, round(room.ring_seconds * RATE))
    return made + _ringing(room, away_m, len(made), chance)


def _reflections(size: Floats, source: Floats, ear: Floats, length: int) -> Floats:
    """Mirror images of the first two orders, each wall swallowing a third."""
    steps = np.array(np.meshgrid(*[np.arange(-2, 3)] * 3)).reshape(3, -1).T
    steps = steps[np.abs(steps).sum(axis=1) <= 2]
    odd = steps % 2 != 0
    images = steps * size + np.where(odd, size - source, source)
    away = np.linalg.norm(images - ear, axis=1)
    direct = np.linalg.norm(source - ear)
    made = np.zeros(length)
    places = np.round((away - direct) / _SPEED_OF_SOUND * RATE).astype(int)
    for place, distance, order in zip(places, away, np.abs(steps).sum(axis=1), strict=True):
        if 0 <= place < length:
            made[place] += direct / distance * 0.75**order
    return made


def _ringing(room: Room, away_m: float, length: int, chance: np.random.Generator) -> Floats:
    """The diffuse end, high tones dying sooner; as loud as its room's critical distance has it."""
    seconds = np.arange(length) / RATE
    made = np.zeros(length)
    spectrum = np.fft.rfft(chance.normal(size=length))
    hertz = np.fft.rfftfreq(length, 1 / RATE)
    for low, high, share in ((60, 500, 1.2), (500, 2_000, 1.0), (2_000, 6_000, 0.75), (6_000, 18_000, 0.45)):
        band = np.fft.irfft(np.where((hertz >= low) & (hertz < high), spectrum, 0), length)
        made += band * np.exp(-6.9 * seconds / (room.ring_seconds * share))
    made *= 1 - np.exp(-seconds / 0.004)
    volume = float(np.prod(room.size_m))
    critical = 0.057 * np.sqrt(volume / room.ring_seconds)
    return made * (away_m / critical) * 0.7 / np.sqrt(np.sum(made**2))


def convolved(signal: Floats, answer: Floats) -> Floats:
    """A signal in a room, as long as before."""
    return np.asarray(oaconvolve(signal, answer)[: len(signal)])


def noise(length: int, chance: np.random.Generator) -> Floats:
    """A room's own noise at RMS 1: mostly pink, some white, some hum."""
    even = _easy_length(length)
    spectrum = np.fft.rfft(chance.normal(size=even))
    hertz = np.maximum(np.fft.rfftfreq(even, 1 / RATE), 20.0)
    pink = np.fft.irfft(spectrum * (np.sqrt(300 / hertz) + 0.12), even)[:length]
    hum = sum(np.sin(2 * np.pi * 50 * k * np.arange(length) / RATE + k) / k**1.5 for k in (1, 2, 3))
    made = pink / pink.std() + 0.4 * hum
    return np.asarray(made / made.std())


def with_noise(signal: Floats, snr_db: float, chance: np.random.Generator) -> Floats:
    """A signal and noise so many dB below its RMS."""
    level = np.sqrt(np.mean(signal**2)) * 10 ** (-snr_db / 20)
    return signal + level * noise(len(signal), chance)


def banded(signal: Floats, low: float, high: float) -> Floats:
    """A signal between two frequencies, falling off softly (zero phase)."""
    length = _easy_length(len(signal))
    spectrum = np.fft.rfft(signal, length)
    hertz = np.fft.rfftfreq(length, 1 / RATE)
    shape = 1 / np.sqrt(1 + (low / np.maximum(hertz, 1)) ** 6) / np.sqrt(1 + (hertz / high) ** 12)
    return np.fft.irfft(spectrum * shape, length)[: len(signal)]


def _easy_length(length: int) -> int:
    """A length no shorter that an FFT is quick with."""
    return -(-length // 16_384) * 16_384


def levelled(signal: Floats, ratio: float = 0.5) -> Floats:
    """What a phone's automatic gain does: quick to turn down, slow to turn up."""
    hop = 64
    size = np.abs(signal[: len(signal) // hop * hop]).reshape(-1, hop).max(axis=1)
    held = np.empty_like(size)
    now = size.max() / 4
    for index, one in enumerate(size):
        now += (0.25 if one > now else 0.002) * (one - now)
        held[index] = now
    gain = np.maximum(held / size.max(), 0.05) ** (ratio - 1)
    return signal * np.interp(np.arange(len(signal)), np.arange(len(gain)) * hop, gain)


def coded(signal: Floats, codec: str, kbps: int) -> tuple[Floats, int]:
    """A signal through a codec and back, its delay taken out; and its rate afterwards."""
    rate = 48_000 if codec == "libopus" else RATE
    memory = io.BytesIO()
    peak = np.abs(signal).max() / 0.7
    with av.open(memory, "w", format="webm" if codec == "libopus" else "adts") as out:
        stream = out.add_stream(codec, rate=rate)
        stream.bit_rate = kbps * 1000
        stream.layout = "mono"
        frame = av.AudioFrame.from_ndarray(
            (signal / peak).astype(np.float32)[None], format="fltp", layout="mono"
        )
        frame.sample_rate = RATE
        frame.time_base = Fraction(1, RATE)
        turn = av.AudioResampler(format=stream.codec_context.format, layout="mono", rate=rate, frame_size=960)
        if codec != "libopus":
            turn = av.AudioResampler(format="fltp", layout="mono", rate=rate, frame_size=1024)
        for piece in (*turn.resample(frame), *turn.resample(None)):
            out.mux(stream.encode(piece))
        out.mux(stream.encode(None))
    memory.seek(0)
    with av.open(memory) as back:
        turn = av.AudioResampler(format="flt", layout="mono", rate=rate)
        parts = [p.to_ndarray()[0] for f in back.decode(audio=0) for p in turn.resample(f)]
    made = np.concatenate(parts).astype(np.float64)
    return _moved_back(made, signal, rate), rate


def _moved_back(made: Floats, signal: Floats, rate: int) -> Floats:
    """A decoded signal, shifted to where it fits the original best."""
    at = np.arange(int(len(signal) * rate / RATE)) * (RATE / rate)
    before = np.interp(at, np.arange(len(signal)), signal)
    length = 1 << int(np.ceil(np.log2(len(before) + len(made))))
    fit = np.fft.irfft(np.fft.rfft(made, length) * np.conj(np.fft.rfft(before, length)), length)
    lag = int(np.argmax(fit[:6000]))
    return np.concatenate([made[lag:], np.zeros(lag)])[: len(before)]


def clicks(seconds: tuple[float, ...], length: int, chance: np.random.Generator) -> Floats:
    """A metronome as it leaks from headphones, 1 high."""
    hertz = chance.uniform(900, 2_200)
    at = np.arange(round(0.03 * RATE)) / RATE
    one = np.sin(2 * np.pi * hertz * at) * np.exp(-at / 0.008)
    made = np.zeros(length)
    for beat in seconds:
        place = round(beat * RATE)
        part = made[place : place + len(one)]
        part += one[: len(part)]
    return made


Buses = Mapping[str, Floats]
Recording = tuple[Floats, int]


def _together(buses: Buses) -> Floats:
    return np.sum(list(buses.values()), axis=0)


def _in_room(buses: Buses, chance: np.random.Generator) -> Floats:
    room = ROOMS[int(chance.integers(len(ROOMS)))]
    away = float(chance.uniform(0.7, 2.2))
    return np.sum([convolved(one, response(room, away, bus, chance)) for bus, one in buses.items()], axis=0)


def _noisy_room(snr_db: float) -> Callable[[Buses, tuple[float, ...], np.random.Generator], Recording]:
    return lambda buses, _beats, chance: (with_noise(_in_room(buses, chance), snr_db, chance), RATE)


def _phone(buses: Buses, _beats: tuple[float, ...], chance: np.random.Generator) -> Recording:
    heard = with_noise(_in_room(buses, chance), chance.uniform(28, 38), chance)
    heard = levelled(banded(heard, chance.uniform(90, 200), chance.uniform(6_500, 12_000)))
    codec, kbps = (("aac", 64), ("aac", 96), ("libopus", 32), ("libopus", 64))[int(chance.integers(4))]
    return coded(heard, codec, kbps)


def _clipped(buses: Buses, _beats: tuple[float, ...], chance: np.random.Generator) -> Recording:
    heard = with_noise(_in_room(buses, chance), 40, chance)
    return np.clip(heard / np.abs(heard).max() * 10 ** (chance.uniform(6, 14) / 20), -1, 1), RATE


def _click(buses: Buses, beats: tuple[float, ...], chance: np.random.Generator) -> Recording:
    heard = with_noise(_in_room(buses, chance), 35, chance)
    loud = np.abs(heard).max() * 10 ** (-chance.uniform(18, 34) / 20)
    return heard + loud * clicks(beats, len(heard), chance), RATE


CONDITIONS: dict[str, Callable[[Buses, tuple[float, ...], np.random.Generator], Recording]] = {
    "dry": lambda buses, _beats, _chance: (_together(buses), RATE),
    "room 40 dB": _noisy_room(40),
    "room 30 dB": _noisy_room(30),
    "room 20 dB": _noisy_room(20),
    "phone": _phone,
    "clipped": _clipped,
    "click": _click,
}
"""Every condition: from the parts of the kit and the beats of a click to a recording and its rate."""
