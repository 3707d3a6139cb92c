"""A recording prepared for onset detection: mono, at a peak of 1, at a usable rate; its clipping measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Signal = npt.NDArray[np.float32]

_TOP_RATE = 50_000  # samples per second; more is thinned out, as attacks hold nothing above 25 kHz (ours)
_USUAL_RATE = 48_000  # samples per second that thinning aims at; a common rate of recorders
CANCEL_SHARE = 0.25
"""Channels cancel if their mean has less than this share of the loudest one's power; ours, not measured."""

_LEAD_SECONDS = 0.02  # silence put before the recording; ours, not measured
_FULL_SCALE = 0.985  # share of the peak from which a sample may be clipped; ours, not measured
_LOUD = 0.5  # share of the peak from which a sample is loud; ours, not measured
_FFT_LENGTH = 1 << 14  # samples: lengths are rounded up to a multiple, which an FFT is quick with
_KEPT_BAND = 0.95  # share of the new bandwidth that is kept, so that nothing folds back; ours, not measured


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PreparedRecording:
    """A recording ready for onset detection.

    Attributes:
        signal: mono, its peak at 1, shape (samples,); all zeros for silence. It starts with `lead` samples of
            silence, so that a stroke at the start of the recording has something to rise from.
        lead: samples of silence at the start.
        rate: samples per second, at most 50,000.
        gain_db: level in the recording, in dB of its full scale, less the level in `signal`.
        clipped_share: share of the loud samples that are at the recording's peak.
    """

    signal: Signal
    lead: int
    rate: float
    gain_db: float
    clipped_share: float

    @property
    def seconds(self) -> float:
        """Length of the recording."""
        return (len(self.signal) - self.lead) / self.rate

    def calculate_seconds(self, samples: npt.NDArray[np.intp]) -> npt.NDArray[np.float64]:
        """Return the times in the recording of samples of `signal`."""
        return np.maximum(0, samples - self.lead) / self.rate


def prepare_recording(samples: npt.NDArray[np.floating], rate: float) -> PreparedRecording:
    """Bring a recording to mono, to a peak of 1 and to a usable rate.

    Args:
        samples: shape (n,) or (n, channels); values that are not finite count as silence.
        rate: samples per second.
    """
    mono = _mix_to_mono(np.asarray(samples, np.float32))
    finite = np.isfinite(mono)
    if not finite.all():
        mono = np.where(finite, mono, np.float32(0))
    step = max(1, round(rate / _USUAL_RATE)) if rate > _TOP_RATE else 1
    if step > 1:
        mono = _decimate(mono, step)
    peak = max(float(mono.max(initial=0.0)), -float(mono.min(initial=0.0))) or 1.0
    lead = round(_LEAD_SECONDS * rate / step)
    signal = np.zeros(lead + len(mono), np.float32)
    np.divide(mono, np.float32(peak), out=signal[lead:])
    del mono, finite  # as much memory again, in a long take
    return PreparedRecording(
        signal=signal,
        lead=lead,
        rate=rate / step,
        gain_db=20 * float(np.log10(peak)),
        clipped_share=_measure_clipping(signal),
    )


def _mix_to_mono(samples: Signal) -> Signal:
    """Return the mean of the channels, or the loudest one if they cancel each other; no copy of one channel."""
    if samples.ndim == 1 or samples.shape[1] == 1:
        return samples.reshape(-1)
    mean = samples.mean(axis=1, dtype=np.float32)
    powers = np.array([np.dot(channel, channel) for channel in samples.T])
    if float(np.dot(mean, mean)) < CANCEL_SHARE * float(powers.max(initial=0.0)):
        return samples[:, int(np.argmax(powers))]
    return np.asarray(mean, np.float32)


def _decimate(signal: Signal, step: int) -> Signal:
    """Keep one sample in `step`, after a low-pass filter in the frequency domain."""
    length = -(-len(signal) // _FFT_LENGTH) * _FFT_LENGTH
    spectrum = np.fft.rfft(signal, length)
    low = spectrum[: int(length / 2 / step * _KEPT_BAND)]
    small = np.zeros(length // step // 2 + 1, spectrum.dtype)
    small[: len(low)] = low
    decimated = np.fft.irfft(small, length // step)[: len(signal) // step] / step
    return np.asarray(decimated, np.float32)


def _measure_clipping(signal: Signal) -> float:
    """Return the share of the loud samples that are at the peak, next to another one that is."""
    loud = int(np.count_nonzero(signal > _LOUD)) + int(np.count_nonzero(signal < -_LOUD))
    at_peak = (signal > _FULL_SCALE) | (signal < -_FULL_SCALE)
    return int(np.count_nonzero(at_peak[1:] & at_peak[:-1])) / max(1, loud)
