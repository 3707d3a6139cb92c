"""How a recording is prepared for listening, and how good it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Signal = npt.NDArray[np.float32]

_TOP_RATE = 50_000
_LEAD_SECONDS = 0.02
_FULL_SCALE = 0.985
_LOUD = 0.5
_CANCELS = 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PreparedRecording:
    """A recording ready for listening.

    Attributes:
        signal: mono, its peak at 1, shape (samples,); all zeros for silence. It starts with `lead` samples of
            silence, so that a stroke with which the recording begins has something to rise from.
        lead: how many.
        rate: samples a second, at most 50,000.
        gain_db: what has to be added to a level in `signal` to have it in dB of the recording's full scale.
        clipped_share: part of the loud samples that stand at the recording's peak.
    """

    signal: Signal
    lead: int
    rate: float
    gain_db: float
    clipped_share: float

    @property
    def seconds(self) -> float:
        """How long the recording is."""
        return (len(self.signal) - self.lead) / self.rate

    def seconds_at(self, sample: npt.NDArray[np.intp]) -> npt.NDArray[np.float64]:
        """Seconds in the recording of some samples of `signal`."""
        return np.maximum(0, sample - self.lead) / self.rate


def prepare_recording(samples: npt.NDArray[np.floating], rate: float) -> PreparedRecording:
    """Bring a recording to mono, to a peak of 1 and to a rate that is worth the work.

    Args:
        samples: shape (n,) or (n, channels); what is not a number counts as silence.
        rate: samples a second.
    """
    mono = _mono(np.asarray(samples, np.float32))
    mono[~np.isfinite(mono)] = 0.0
    step = max(1, round(rate / 48_000)) if rate > _TOP_RATE else 1
    if step > 1:
        mono = _thinned(mono, step)
    peak = max(float(mono.max(initial=0.0)), -float(mono.min(initial=0.0))) or 1.0
    lead = round(_LEAD_SECONDS * rate / step)
    signal = np.zeros(lead + len(mono), np.float32)
    np.divide(mono, np.float32(peak), out=signal[lead:])
    del mono  # as much memory again, in a long take
    return PreparedRecording(
        signal=signal,
        lead=lead,
        rate=rate / step,
        gain_db=20 * float(np.log10(peak)),
        clipped_share=_clipped(signal),
    )


def _mono(samples: Signal) -> Signal:
    """The mean of the channels, or the loudest one where they cancel each other; a copy."""
    if samples.ndim == 1 or samples.shape[1] == 1:
        return samples.flatten()
    mean = samples.mean(axis=1, dtype=np.float32)
    powers = np.array([np.dot(channel, channel) for channel in samples.T])
    if float(np.dot(mean, mean)) < _CANCELS * float(powers.max(initial=0.0)):
        return samples[:, int(np.argmax(powers))].copy()
    return np.asarray(mean, np.float32)


def _thinned(signal: Signal, step: int) -> Signal:
    """Every so many samples, what would fold back taken out."""
    length = -(-len(signal) // (1 << 14)) * (1 << 14)
    spectrum = np.fft.rfft(signal, length)
    kept = spectrum[: int(length / 2 / step * 0.95)]
    small = np.zeros(length // step // 2 + 1, spectrum.dtype)
    small[: len(kept)] = kept
    made = np.fft.irfft(small, length // step)[: len(signal) // step] / step
    return np.asarray(made, np.float32)


def _clipped(signal: Signal) -> float:
    """Part of the loud samples that stand at the peak beside another one that does."""
    size = np.abs(signal)
    loud = int(np.count_nonzero(size > _LOUD))
    at_peak = size > _FULL_SCALE
    return int(np.count_nonzero(at_peak[1:] & at_peak[:-1])) / max(1, loud)
