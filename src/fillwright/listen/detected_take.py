"""What is heard in a take: onsets with their level and colour, and how good the recording is."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Onset:
    """One attack.

    Attributes:
        seconds: from the start of the take, where the attack starts.
        strength_db: how far it stands out from what was there just before.
        loudness_db: its loudness, for comparing strokes on one surface.
        timbre: its colour, shape (features,): levels in dB of bands from low to high, of what sounds after the
            attack less what sounded before it, in one or more windows of time one after the other. Empty for a
            MIDI take.
        surface: name of the surface where the source itself says it (an electronic kit), else "".
        confidence: 0 to 1, how sure it is that something was struck here.
    """

    seconds: float
    strength_db: float
    loudness_db: float
    timbre: Floats = field(default_factory=lambda: np.zeros(0))
    surface: str = ""
    confidence: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DetectedTake:
    """Everything that was heard in one take.

    Attributes:
        onsets: ascending in time.
        faint: moments where something may have been struck and more likely was not, ascending in time: for a
            second look where a stroke is expected (`look_again`); empty for a MIDI take.
        seconds: how long the take is.
        novelty_db: how new the sound is at each moment, shape (frames,): for a second look where a stroke is
            expected; empty for a MIDI take.
        novelty_hop_seconds: the time between two of its frames.
        noise_db: level of the background, in dB of full scale.
        loudest_db: level of the loudest attacks, in dB of full scale.
        clipped_share: part of the loud samples that stand at full scale.
        cutoff_hz: the frequency above which nothing comes through (a phone, a codec).
        from_midi: whether it comes from an electronic kit: times and surfaces are then facts.
    """

    onsets: tuple[Onset, ...]
    seconds: float
    faint: tuple[Onset, ...] = ()
    novelty_db: Floats = field(default_factory=lambda: np.zeros(0))
    novelty_hop_seconds: float = 0.0
    noise_db: float = -120.0
    loudest_db: float = 0.0
    clipped_share: float = 0.0
    cutoff_hz: float = 22_050.0
    from_midi: bool = False

    def look_again(self, start: float, end: float) -> Onset | None:
        """The likeliest faint moment from `start` to `end` seconds; None where there is none.

        What is heard already is not looked at: its time is sure, a faint one's is not.
        """
        inside = [one for one in self.faint if start <= one.seconds <= end]
        return max(inside, key=lambda one: one.confidence, default=None)
