"""Audio: finished samples with the time of the phrase's first beat in them."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.sound.signal import SAMPLE_RATE, Samples


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Audio:
    """A finished piece of audio.

    Attributes:
        samples: stereo, full scale 1, shape (samples, 2).
        start_seconds: time of the phrase's first beat, after the count-in.
        rate: samples a second.
        loops: True if the end leads to the start without a seam.
    """

    samples: Samples
    start_seconds: float = 0.0
    rate: int = SAMPLE_RATE
    loops: bool = False

    @property
    def seconds(self) -> float:
        """Length, in seconds."""
        return len(self.samples) / self.rate
