"""The onsets detected in one take, with the quality of the recording."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Onset:
    """One attack.

    Attributes:
        seconds: time from the start of the take to the start of the attack.
        strength_db: mean rise over the power just before it.
        loudness_db: peak of the attack, comparable between strokes on one surface.
        timbre: band levels in dB from low to high, shape (features,), of one or more windows after the attack,
            less what sounded before it. Empty for a MIDI take.
        surface: name of the surface if the source reports it (an electronic kit), else "".
        confidence: probability, 0 to 1, that something was struck here.
        class_odds: log odds of each class of `onsets.ear.outputs.CLASSES`; empty for a MIDI take.
        voice_print: numbers that are alike for strokes on one drum of a take; empty for a MIDI take.
        pitch_octaves: pitch above 100 Hz if it is a tom; 0 for a MIDI take.
    """

    seconds: float
    strength_db: float
    loudness_db: float
    timbre: Floats = field(default_factory=lambda: np.zeros(0))
    surface: str = ""
    confidence: float = 1.0
    class_odds: Floats = field(default_factory=lambda: np.zeros(0))
    voice_print: Floats = field(default_factory=lambda: np.zeros(0))
    pitch_octaves: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DetectedTake:
    """Everything detected in one take.

    Attributes:
        onsets: ascending in time.
        faint: onsets of low confidence, ascending in time; used only where a stroke is expected. Empty for a
            MIDI take.
        seconds: length of the take.
        noise_db: level of the background, in dB of full scale.
        loudest_db: level of the loudest attacks, in dB of full scale.
        clipped_share: share of the loud samples that are at full scale.
        cutoff_hz: frequency above which the recording holds nothing (a phone, a codec).
        from_midi: True for an electronic kit, whose times and surfaces are facts.
        dropouts: number of short pieces of the recording that were lost.
    """

    onsets: tuple[Onset, ...]
    seconds: float
    faint: tuple[Onset, ...] = ()
    noise_db: float = -120.0
    loudest_db: float = 0.0
    clipped_share: float = 0.0
    cutoff_hz: float = 22_050.0
    from_midi: bool = False
    dropouts: int = 0
