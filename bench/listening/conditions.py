"""The conditions of a recording: rooms, noise, phones, overload, a click in the background.

Every condition keeps the truth: the direct sound of every drum stays where it was, and the delay of a codec is
removed by the lag at which its output fits its input best.

Rooms, noise and gains are ours, not measured, unless a line says otherwise.
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

_SPEED_OF_SOUND = 343.0  # m/s, of air at 20 °C (from memory)
_SABINE_DISTANCE = 0.057  # critical distance in m = this × √(volume / ringing time) (from memory)
_DECAY_60_DB = 6.9  # natural logarithm of an amplitude ratio of 60 dB
_FFT_LENGTH = 16_384  # samples: lengths are rounded up to a multiple, which an FFT is quick with


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingRoom:
    """A room: how long it rings, and its size in metres."""

    ring_seconds: float
    size_m: tuple[float, float, float]


# A small, a middling and a large room.
ROOMS = (
    RecordingRoom(ring_seconds=0.25, size_m=(3.1, 2.6, 2.4)),
    RecordingRoom(ring_seconds=0.45, size_m=(5.2, 4.1, 2.7)),
    RecordingRoom(ring_seconds=0.7, size_m=(8.3, 6.1, 3.2)),
)
# Positions of the parts of the kit in metres: across, along and above the floor.
_KIT_PLAN_M = {
    "kick": (0.0, 0.4, 0.3),
    "snare": (0.2, 0.0, 0.7),
    "toms": (-0.3, 0.5, 0.9),
    "cymbals": (0.5, 0.7, 1.2),
}
BUSES = tuple(_KIT_PLAN_M)


def find_bus(surface: str) -> str:
    """Return the part of the kit that a surface belongs to."""
    if surface in ("kick", "snare"):
        return surface
    if surface == "rim":
        return "snare"
    return "toms" if surface.endswith("tom") else "cymbals"


def calculate_room_response(
    room: RecordingRoom, away_m: float, bus: str, chance: np.random.Generator
) -> Floats:
    """Return the impulse response of a room from one part of the kit; the direct sound is sample 0, 1 high."""
    size = np.array(room.size_m)
    source = 0.3 * size + np.array(_KIT_PLAN_M[bus])
    source[2] = _KIT_PLAN_M[bus][2]
    ear = source + away_m * np.array([0.75, 0.6, 0.28])
    ear = np.minimum(ear, size - 0.2)
    early = _calculate_reflections(size, source, ear, round(room.ring_seconds * RATE))
    return early + _generate_reverberation(room, away_m, len(early), chance)


def _calculate_reflections(size: Floats, source: Floats, ear: Floats, length: int) -> Floats:
    """Return the mirror images of the first two orders, each wall leaving three quarters of the amplitude."""
    steps = np.array(np.meshgrid(*[np.arange(-2, 3)] * 3)).reshape(3, -1).T
    steps = steps[np.abs(steps).sum(axis=1) <= 2]
    odd = steps % 2 != 0
    images = steps * size + np.where(odd, size - source, source)
    away = np.linalg.norm(images - ear, axis=1)
    direct = np.linalg.norm(source - ear)
    reflections = np.zeros(length)
    samples = np.round((away - direct) / _SPEED_OF_SOUND * RATE).astype(int)
    for sample, distance, order in zip(samples, away, np.abs(steps).sum(axis=1), strict=True):
        if 0 <= sample < length:
            reflections[sample] += direct / distance * 0.75**order
    return reflections


def _generate_reverberation(
    room: RecordingRoom, away_m: float, length: int, chance: np.random.Generator
) -> Floats:
    """Return the diffuse end, high frequencies decaying sooner, as loud as the critical distance makes it."""
    seconds = np.arange(length) / RATE
    tail = np.zeros(length)
    spectrum = np.fft.rfft(chance.normal(size=length))
    hertz = np.fft.rfftfreq(length, 1 / RATE)
    for low, high, share in ((60, 500, 1.2), (500, 2_000, 1.0), (2_000, 6_000, 0.75), (6_000, 18_000, 0.45)):
        band = np.fft.irfft(np.where((hertz >= low) & (hertz < high), spectrum, 0), length)
        tail += band * np.exp(-_DECAY_60_DB * seconds / (room.ring_seconds * share))
    tail *= 1 - np.exp(-seconds / 0.004)
    volume = float(np.prod(room.size_m))
    critical = _SABINE_DISTANCE * np.sqrt(volume / room.ring_seconds)
    return tail * (away_m / critical) * 0.7 / np.sqrt(np.sum(tail**2))


def convolve(signal: Floats, response: Floats) -> Floats:
    """Return a signal in a room, as long as before."""
    return np.asarray(oaconvolve(signal, response)[: len(signal)])


def generate_noise(length: int, chance: np.random.Generator) -> Floats:
    """Return a room's noise at RMS 1: mostly pink, some white, some mains hum."""
    padded = _round_up(length)
    spectrum = np.fft.rfft(chance.normal(size=padded))
    hertz = np.maximum(np.fft.rfftfreq(padded, 1 / RATE), 20.0)
    pink = np.fft.irfft(spectrum * (np.sqrt(300 / hertz) + 0.12), padded)[:length]
    hum = sum(np.sin(2 * np.pi * 50 * k * np.arange(length) / RATE + k) / k**1.5 for k in (1, 2, 3))
    mixed = pink / pink.std() + 0.4 * hum
    return np.asarray(mixed / mixed.std())


def add_noise(signal: Floats, snr_db: float, chance: np.random.Generator) -> Floats:
    """Return a signal and noise, `snr_db` below its RMS."""
    level = np.sqrt(np.mean(signal**2)) * 10 ** (-snr_db / 20)
    return signal + level * generate_noise(len(signal), chance)


def filter_band(signal: Floats, low: float, high: float) -> Floats:
    """Return a signal between two frequencies, falling off softly (zero phase)."""
    length = _round_up(len(signal))
    spectrum = np.fft.rfft(signal, length)
    hertz = np.fft.rfftfreq(length, 1 / RATE)
    shape = 1 / np.sqrt(1 + (low / np.maximum(hertz, 1)) ** 6) / np.sqrt(1 + (hertz / high) ** 12)
    return np.fft.irfft(spectrum * shape, length)[: len(signal)]


def _round_up(length: int) -> int:
    """Return a length no shorter that an FFT is quick with."""
    return -(-length // _FFT_LENGTH) * _FFT_LENGTH


def control_gain(signal: Floats, ratio: float = 0.5) -> Floats:
    """Return a signal after a phone's automatic gain: quick to turn down, slow to turn up."""
    hop = 64
    size = np.abs(signal[: len(signal) // hop * hop]).reshape(-1, hop).max(axis=1)
    envelope = np.empty_like(size)
    now = size.max() / 4
    for index, peak in enumerate(size):
        now += (0.25 if peak > now else 0.002) * (peak - now)
        envelope[index] = now
    gain = np.maximum(envelope / size.max(), 0.05) ** (ratio - 1)
    return signal * np.interp(np.arange(len(signal)), np.arange(len(gain)) * hop, gain)


def encode_and_decode(signal: Floats, codec: str, kbps: int) -> tuple[Floats, int]:
    """Return a signal through a codec and back, its delay removed, and its new rate."""
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
        resampler = av.AudioResampler(
            format=stream.codec_context.format, layout="mono", rate=rate, frame_size=960
        )
        if codec != "libopus":
            resampler = av.AudioResampler(format="fltp", layout="mono", rate=rate, frame_size=1024)
        for piece in (*resampler.resample(frame), *resampler.resample(None)):
            out.mux(stream.encode(piece))
        out.mux(stream.encode(None))
    memory.seek(0)
    with av.open(memory) as back:
        resampler = av.AudioResampler(format="flt", layout="mono", rate=rate)
        parts = [p.to_ndarray()[0] for f in back.decode(audio=0) for p in resampler.resample(f)]
    decoded = np.concatenate(parts).astype(np.float64)
    return _remove_delay(decoded, signal, rate), rate


def _remove_delay(decoded: Floats, signal: Floats, rate: int) -> Floats:
    """Return a decoded signal, shifted to where it fits the original best."""
    at = np.arange(int(len(signal) * rate / RATE)) * (RATE / rate)
    before = np.interp(at, np.arange(len(signal)), signal)
    length = 1 << int(np.ceil(np.log2(len(before) + len(decoded))))
    fit = np.fft.irfft(np.fft.rfft(decoded, length) * np.conj(np.fft.rfft(before, length)), length)
    lag = int(np.argmax(fit[:6000]))
    return np.concatenate([decoded[lag:], np.zeros(lag)])[: len(before)]


def generate_clicks(seconds: tuple[float, ...], length: int, chance: np.random.Generator) -> Floats:
    """Return a metronome as it leaks from headphones, 1 high."""
    hertz = chance.uniform(900, 2_200)
    time = np.arange(round(0.03 * RATE)) / RATE
    click = np.sin(2 * np.pi * hertz * time) * np.exp(-time / 0.008)
    clicks = np.zeros(length)
    for beat in seconds:
        sample = round(beat * RATE)
        part = clicks[sample : sample + len(click)]
        part += click[: len(part)]
    return clicks


Buses = Mapping[str, Floats]
Recording = tuple[Floats, int]


def _add_buses(buses: Buses) -> Floats:
    return np.sum(list(buses.values()), axis=0)


def _record_in_room(buses: Buses, chance: np.random.Generator) -> Floats:
    room = ROOMS[int(chance.integers(len(ROOMS)))]
    away = float(chance.uniform(0.7, 2.2))
    return np.sum(
        [convolve(signal, calculate_room_response(room, away, bus, chance)) for bus, signal in buses.items()],
        axis=0,
    )


def _build_noisy_room(
    snr_db: float,
) -> Callable[[Buses, tuple[float, ...], np.random.Generator], Recording]:
    return lambda buses, _beats, chance: (add_noise(_record_in_room(buses, chance), snr_db, chance), RATE)


def _record_by_phone(buses: Buses, _beats: tuple[float, ...], chance: np.random.Generator) -> Recording:
    signal = add_noise(_record_in_room(buses, chance), chance.uniform(28, 38), chance)
    signal = control_gain(filter_band(signal, chance.uniform(90, 200), chance.uniform(6_500, 12_000)))
    codec, kbps = (("aac", 64), ("aac", 96), ("libopus", 32), ("libopus", 64))[int(chance.integers(4))]
    return encode_and_decode(signal, codec, kbps)


def _record_clipped(buses: Buses, _beats: tuple[float, ...], chance: np.random.Generator) -> Recording:
    signal = add_noise(_record_in_room(buses, chance), 40, chance)
    return np.clip(signal / np.abs(signal).max() * 10 ** (chance.uniform(6, 14) / 20), -1, 1), RATE


def _record_with_click(buses: Buses, beats: tuple[float, ...], chance: np.random.Generator) -> Recording:
    signal = add_noise(_record_in_room(buses, chance), 35, chance)
    level = np.abs(signal).max() * 10 ** (-chance.uniform(18, 34) / 20)
    return signal + level * generate_clicks(beats, len(signal), chance), RATE


# Numbers in the names are decibels of signal to noise.
CONDITIONS: dict[str, Callable[[Buses, tuple[float, ...], np.random.Generator], Recording]] = {
    "dry": lambda buses, _beats, _chance: (_add_buses(buses), RATE),
    "room 40 dB": _build_noisy_room(40),
    "room 30 dB": _build_noisy_room(30),
    "room 20 dB": _build_noisy_room(20),
    "phone": _record_by_phone,
    "clipped": _record_clipped,
    "click": _record_with_click,
}
"""Every condition: from the parts of the kit and the beats of a click to a recording and its rate."""
