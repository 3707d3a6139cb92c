"""Recordings on the GPU: rooms, tone, noise, speech, automatic gain, overload and codecs, all at random.

Ranges are ours, wide on purpose, not measured.
"""

from __future__ import annotations

import math

import torch
from torch import Tensor
from torch.nn import functional

from training.ear.sounds import RATE, STEMS

_ROOM_SAMPLES = round(0.9 * RATE)
_TONE_POINTS = 9  # of a random tone curve, from 30 Hz to 12 kHz
_LEVEL = 0.1  # root mean square of the loud parts before noise is added
_BLOCK = 2400  # samples over which loudness is measured
_CODEC_WINDOW = 1024  # samples of a codec's frame
_DECAY_60_DB = 6.9  # natural logarithm of an amplitude ratio of 60 dB


def record(stems: Tensor, length: int) -> Tensor:
    """Return a recording of some clips, shape (clips, length), its peak at 1.

    Args:
        stems: shape (clips, stems, samples).
        length: samples of the recording.
    """
    clips, device = stems.shape[0], stems.device
    size = 2 ** math.ceil(math.log2(length + round(0.6 * RATE)))
    hertz = torch.fft.rfftfreq(size, 1 / RATE, device=device)
    signal = torch.fft.irfft(_add_rooms(stems, size, hertz) * _draw_tone(clips, hertz), n=size)[:, :length]
    blocks = signal[:, : length // _BLOCK * _BLOCK].reshape(clips, -1, _BLOCK).square().mean(2)
    level = torch.quantile(blocks, 0.9, dim=1).sqrt().clamp_min(1e-6)
    signal = _add_noises(signal / level[:, None] * _LEVEL)
    signal = _overload(_control_gain(signal))
    signal = _encode(signal)
    return signal / signal.abs().amax(1, keepdim=True).clamp_min(1e-6)


def _draw(clips: int, device: torch.device, low: float, high: float) -> Tensor:
    return torch.rand(clips, device=device) * (high - low) + low


def _draw_log(clips: int, device: torch.device, low: float, high: float) -> Tensor:
    return torch.exp(_draw(clips, device, math.log(low), math.log(high)))


def _choose(share: float, values: Tensor, otherwise: float) -> Tensor:
    """Return values in a share of the clips, and another one in the rest."""
    return torch.where(torch.rand_like(values) < share, values, torch.full_like(values, otherwise))


def _draw_curve(shape: tuple[int, ...], hertz: Tensor, spread_db: Tensor) -> Tensor:
    """Return smooth random gains over frequency, shape (*shape, frequencies)."""
    device = hertz.device
    points = torch.randn(*shape, _TONE_POINTS, device=device) * spread_db[..., None]
    tilt = torch.randn(*shape, 1, device=device) * spread_db[..., None] * 0.7
    points = points + tilt * torch.linspace(-2, 2, _TONE_POINTS, device=device)
    place = torch.log2(hertz.clamp_min(30) / 30) / math.log2(400) * (_TONE_POINTS - 1)
    place = place.clamp(0, _TONE_POINTS - 1.001)
    before = place.floor().long()
    share = place - before
    return 10 ** ((points[..., before] * (1 - share) + points[..., before + 1] * share) / 20)


def _add_rooms(stems: Tensor, size: int, hertz: Tensor) -> Tensor:
    """Return the spectrum of the stems in a room each clip has, added up; one clip in eight is dry."""
    clips, device = stems.shape[0], stems.device
    wet_db = _choose(0.88, _draw(clips, device, -34, 3), -60.0)
    room = torch.fft.rfft(_draw_rooms(clips, device) * 10 ** (wet_db[:, None] / 20), n=size)
    share = 10 ** (torch.randn(clips, STEMS, 1, device=device) * 2.5 / 20)
    spread = _draw(clips, device, 0, 3)[:, None].expand(clips, STEMS)
    total = torch.zeros(clips, len(hertz), dtype=torch.complex64, device=device)
    for stem in range(STEMS):
        tone = _draw_curve((clips,), hertz, spread[:, stem])
        total = total + torch.fft.rfft(stems[:, stem], n=size) * tone * (1 + room * share[:, stem])
    return total


def _draw_rooms(clips: int, device: torch.device) -> Tensor:
    """Return room responses without the direct sound, energy 1: a tail, its highs shorter, and reflections."""
    seconds = torch.arange(_ROOM_SAMPLES, device=device) / RATE
    ring = _draw_log(clips, device, 0.1, 1.1)[:, None]
    low, high = torch.randn(2, clips, _ROOM_SAMPLES, device=device)
    high = high - functional.avg_pool1d(high[:, None], 5, 1, 2)[:, 0]
    tail = low * torch.exp(-_DECAY_60_DB * seconds / ring) * 0.7
    tail = tail + high * torch.exp(-_DECAY_60_DB * seconds / (ring * 0.45)) * 0.6
    tail = tail * ((seconds - _draw(clips, device, 0.001, 0.02)[:, None]) / 0.004).clamp(0, 1)
    numbers = torch.arange(clips, device=device)
    for _ in range(5):
        tail[numbers, (_draw(clips, device, 0.0005, 0.03) * RATE).long()] += (
            torch.randn(clips, device=device) * 4
        )
    return tail / tail.square().sum(1, keepdim=True).sqrt().clamp_min(1e-6)


def _draw_tone(clips: int, hertz: Tensor) -> Tensor:
    """Return the tone of each clip's microphone: a smooth curve, in some clips without lows or highs."""
    device = hertz.device
    low = _choose(0.45, _draw_log(clips, device, 40, 300), 15.0)[:, None]
    high = _choose(0.4, _draw_log(clips, device, 2500, 11_000), 20_000.0)[:, None]
    edges = torch.sqrt(1 + (low / hertz.clamp_min(1)) ** 4) * torch.sqrt(1 + (hertz / high) ** 6)
    return _draw_curve((clips,), hertz, _draw(clips, device, 0, 3.5)) / edges


def _add_noises(signal: Tensor) -> Tensor:
    """Add noise of any colour, mains hum, and in one clip of five a voice."""
    clips, length = signal.shape
    device = signal.device
    seconds = torch.arange(length, device=device) / RATE
    snr, hum_db = _draw(clips, device, 8, 75)[:, None], _draw(clips, device, -75, -28)[:, None]
    voice_db = _choose(0.2, _draw(clips, device, -40, -10), -99.0)[:, None]
    mains = torch.where(torch.rand(clips, 1, device=device) < 0.5, 50.0, 60.0)
    hum = torch.zeros_like(signal)
    for partial in (1, 2, 3, 5, 7):
        phase, height = torch.rand(2, clips, 1, device=device)
        hum = hum + torch.sin(2 * math.pi * (mains * partial * seconds + phase)) * height
    noise = _draw_noise(clips, length, _draw(clips, device, -2, 0.5))
    mixed = signal + noise * _LEVEL * 10 ** (-snr / 20) + hum * _LEVEL * 10 ** (hum_db / 20)
    return mixed + _draw_voices(clips, length, device) * _LEVEL * 10 ** (voice_db / 20)


def _draw_noise(clips: int, length: int, slope: Tensor) -> Tensor:
    """Return noise whose power follows frequency to a power, at level 1."""
    spectrum = torch.fft.rfft(torch.randn(clips, length, device=slope.device))
    place = torch.arange(spectrum.shape[1], device=slope.device).clamp_min(1) / spectrum.shape[1]
    spectrum = spectrum * place.pow(slope[:, None] / 2)
    spectrum[:, : round(20 * length / RATE) + 1] = 0
    noise = torch.fft.irfft(spectrum, n=length)
    return noise / noise.std(1, keepdim=True).clamp_min(1e-9)


def _draw_voices(clips: int, length: int, device: torch.device) -> Tensor:
    """Return something like speech: a buzz through three formants, in syllables, at level 1."""
    seconds = torch.arange(length, device=device) / RATE
    pitch = _draw(clips, device, 90, 240)[:, None]
    glide = torch.sin(
        2 * math.pi * (_draw(clips, device, 0.3, 2)[:, None] * seconds + torch.rand(clips, 1, device=device))
    )
    phase = torch.cumsum(pitch * (1 + 0.12 * glide) / RATE, 1) % 1
    source = 1 - 2 * phase + 0.3 * torch.randn(clips, length, device=device)
    hertz = torch.fft.rfftfreq(length, 1 / RATE, device=device)
    formants = torch.zeros(clips, len(hertz), device=device)
    for low, high, width in ((250, 800, 90), (800, 2300, 130), (2200, 3200, 200)):
        formants = formants + 1 / (1 + ((hertz - _draw(clips, device, low, high)[:, None]) / width) ** 2)
    voice = torch.fft.irfft(torch.fft.rfft(source) * formants, n=length)
    syllables = max(4, round(length / RATE * float(_draw(1, device, 3, 9))))
    steps = torch.rand(clips, 1, syllables, device=device)
    shape = functional.interpolate(steps, size=length, mode="linear")[:, 0]
    voice = voice * (shape - 0.25).clamp_min(0)
    return voice / voice.std(1, keepdim=True).clamp_min(1e-9)


def _control_gain(signal: Tensor) -> Tensor:
    """Apply automatic gain in half of the clips: loud parts turned down, slowly or quickly."""
    clips, length = signal.shape
    step, device = 240, signal.device
    energy = signal[:, : length // step * step].reshape(clips, -1, step).square().mean(2)
    count = energy.shape[1]
    fall = torch.exp(
        -torch.arange(count, device=device) * step / RATE / _draw_log(clips, device, 0.03, 0.6)[:, None]
    )
    fall = fall / fall.sum(1, keepdim=True)
    smooth = torch.fft.irfft(
        torch.fft.rfft(energy, n=2 * count) * torch.fft.rfft(fall, n=2 * count), n=2 * count
    )
    strength = _choose(0.5, _draw(clips, device, 0, 0.75), 0.0)[:, None]
    gain = ((smooth[:, :count].clamp_min(1e-9) + 1e-4) / _LEVEL**2).pow(-strength / 2)
    return signal * functional.interpolate(gain[:, None], size=length, mode="linear")[:, 0]


def _overload(signal: Tensor) -> Tensor:
    """Overload one clip in three, hard or softly; the others keep 6 dB of room."""
    clips, device = signal.shape[0], signal.device
    gain_db = _choose(0.35, _draw(clips, device, 0, 22), -6.0)[:, None]
    driven = signal / signal.abs().amax(1, keepdim=True).clamp_min(1e-6) * 10 ** (gain_db / 20)
    is_soft = torch.rand(clips, 1, device=device) < 0.5
    return torch.where(is_soft, torch.tanh(driven), driven.clamp(-1, 1))


def _encode(signal: Tensor) -> Tensor:
    """Encode one clip in three: noise below each band's level, spread over a frame, and a cut of the highs."""
    clips, length = signal.shape
    device = signal.device
    window = torch.hann_window(_CODEC_WINDOW, device=device)
    spectrum = torch.stft(
        signal, _CODEC_WINDOW, _CODEC_WINDOW // 2, window=window, pad_mode="constant", return_complex=True
    )
    hertz = torch.fft.rfftfreq(_CODEC_WINDOW, 1 / RATE, device=device)
    level = functional.avg_pool1d(spectrum.abs().transpose(1, 2).flatten(0, 1)[:, None], 9, 1, 4)[:, 0]
    level = level.view(clips, -1, len(hertz)).transpose(1, 2)
    ratio = 10 ** (-_draw(clips, device, 4, 24)[:, None, None] / 20)
    noisy = spectrum + torch.randn_like(spectrum) * level * ratio
    noisy = noisy * (hertz < _draw_log(clips, device, 5000, 14_000)[:, None])[:, :, None]
    decoded = torch.istft(noisy, _CODEC_WINDOW, _CODEC_WINDOW // 2, window=window, length=length)
    return torch.where(torch.rand(clips, 1, device=device) < 0.33, decoded, signal)
