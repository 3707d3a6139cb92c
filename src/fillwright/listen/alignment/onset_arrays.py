"""The onsets of a take as arrays, without those that an electronic kit sends by mistake."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.detected_take import DetectedTake, Onset

Floats = npt.NDArray[np.float64]

# Faults of electronic kits.
_RETRIGGER_SECONDS = 0.022  # a stroke so soon on one pad may be a retrigger; from a trial on simulated takes
_RETRIGGER_DB = -12.0  # and is one if so much softer, half the velocity; from a trial on simulated takes
_CROSSTALK_SECONDS = 0.008  # strokes on two pads so near may be crosstalk; ours, not measured
_CROSSTALK_DB = -21.0  # and one is doubtful if so much softer; ours, not measured


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OnsetArrays:
    """The onsets that count, faint ones among them.

    Attributes:
        take: the take.
        index: of each onset in `take.onsets`; -1 for a faint one.
        seconds: ascending.
        strength_db: rises.
        loudness_db: peaks.
        confidence: probabilities of a stroke, 0 to 1.
        timbres: shape (onsets, features); no features for an electronic kit.
        class_odds: the ear's, shape (onsets, classes); no classes for an electronic kit.
        voice_prints: the ear's, shape (onsets, numbers).
        pitches: the ear's, in octaves above 100 Hz.
        surfaces: as the source reports them; "" if it doesn't.
        doubtful: True for possible crosstalk of a louder pad: a stroke where one is written, else nothing.
    """

    take: DetectedTake
    index: npt.NDArray[np.intp]
    seconds: Floats
    strength_db: Floats
    loudness_db: Floats
    confidence: Floats
    timbres: Floats
    class_odds: Floats
    voice_prints: Floats
    pitches: Floats
    surfaces: tuple[str, ...]
    doubtful: npt.NDArray[np.bool_]

    def __len__(self) -> int:
        """Return the number of onsets."""
        return len(self.index)

    @property
    def faint(self) -> npt.NDArray[np.bool_]:
        """True for each faint onset."""
        return self.index < 0


def build_onset_arrays(take: DetectedTake) -> OnsetArrays:
    """Build arrays of the onsets of a take that count, and its faint ones."""
    retriggers = _find_retriggers(take) if take.from_midi else frozenset()
    numbered = [(onset, number) for number, onset in enumerate(take.onsets) if number not in retriggers]
    numbered = sorted([*numbered, *((onset, -1) for onset in take.faint)], key=lambda pair: pair[0].seconds)
    onsets = [onset for onset, _ in numbered]
    return OnsetArrays(
        take=take,
        index=np.array([number for _, number in numbered], dtype=np.intp),
        seconds=np.array([onset.seconds for onset in onsets]),
        strength_db=np.array([onset.strength_db for onset in onsets]),
        loudness_db=np.array([onset.loudness_db for onset in onsets]),
        confidence=np.array([onset.confidence for onset in onsets]),
        timbres=_stack([onset.timbre for onset in onsets]),
        class_odds=_stack([onset.class_odds for onset in onsets]),
        voice_prints=_stack([onset.voice_print for onset in onsets]),
        pitches=np.array([onset.pitch_octaves for onset in onsets]),
        surfaces=tuple(onset.surface for onset in onsets),
        doubtful=np.array(
            [take.from_midi and _may_be_crosstalk(onsets, position) for position in range(len(onsets))],
            dtype=bool,
        ),
    )


def _stack(rows: Sequence[Floats]) -> Floats:
    """Return rows of one length as an array; without columns if their lengths differ."""
    sizes = {row.size for row in rows}
    return np.array(rows, dtype=np.float64) if len(sizes) == 1 else np.zeros((len(rows), 0))


def _find_retriggers(take: DetectedTake) -> frozenset[int]:
    """Find the onsets of an electronic kit that repeat the one before them on the same pad."""
    retriggers = set()
    last: dict[str, Onset] = {}
    for number, onset in enumerate(take.onsets):
        first = last.get(onset.surface)
        if (
            first is not None
            and onset.seconds - first.seconds < _RETRIGGER_SECONDS
            and onset.loudness_db - first.loudness_db < _RETRIGGER_DB
        ):
            retriggers.add(number)
        else:
            last[onset.surface] = onset
    return frozenset(retriggers)


def _may_be_crosstalk(onsets: Sequence[Onset], position: int) -> bool:
    """Return True if another pad was struck so much harder at that time that it may have triggered this one."""
    soft = onsets[position]
    near = onsets[max(0, position - 2) : position + 3]
    return any(
        onset.surface != soft.surface
        and abs(onset.seconds - soft.seconds) < _CROSSTALK_SECONDS
        and soft.loudness_db - onset.loudness_db < _CROSSTALK_DB
        for onset in near
    )
