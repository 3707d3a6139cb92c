"""The ear on a whole recording: the network's outputs, some seconds at a time, so that memory stays small."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.onsets.ear.features import HOP, compute_features, measure_level
from fillwright.listen.onsets.ear.network import EarNetwork, load_network
from fillwright.listen.onsets.ear.outputs import ANY_ROW, CLASSES, PITCH_ROW, PRINT_ROW
from fillwright.listen.onsets.ear.resample import resample_signal

Signal = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]

READ_FRAMES = 2
"""Frames after an attack at which pitch and voice print are read; the network is trained for it."""

_CHUNK_FRAMES = 800  # 4 s at a time; ours, for memory and speed
_NEAR_FRAMES = 2  # on each side of an attack, whose greatest odds of each class count; ours, not measured
_LEAST_LEVEL = 1e-9  # of a take, so that silence divides by something


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EarOutputs:
    """The network's outputs over a recording.

    Attributes:
        rows: shape (rows, frames), as `outputs` names them.
        rate: frames per second.
    """

    rows: Signal
    rate: float

    def read_odds(self, seconds: Floats) -> Floats:
        """Return the log odds that a drum is struck at some times."""
        return np.asarray(self.rows[ANY_ROW, self._find_frames(seconds)], np.float64)

    def describe(self, seconds: Floats) -> tuple[Floats, Floats, Floats]:
        """Return classes, pitches and voice prints of attacks at some times.

        Returns:
            Log odds of each class, shape (attacks, classes); pitches as if they were toms, in octaves above
            100 Hz; voice prints, each of length 1, shape (attacks, print).
        """
        frames = self._find_frames(seconds)
        near = self._limit(frames[:, None] + np.arange(-_NEAR_FRAMES, _NEAR_FRAMES + 1))
        class_odds = self.rows[: len(CLASSES), near].max(axis=2).T
        after = self._limit(frames + READ_FRAMES)
        prints = self.rows[PRINT_ROW:, after].T.astype(np.float64)
        prints /= np.maximum(np.linalg.norm(prints, axis=1, keepdims=True), _LEAST_LEVEL)
        return np.asarray(class_odds, np.float64), np.asarray(self.rows[PITCH_ROW, after], np.float64), prints

    def _find_frames(self, seconds: Floats) -> npt.NDArray[np.intp]:
        return self._limit(np.round(seconds * self.rate).astype(np.intp))

    def _limit(self, frames: npt.NDArray[np.intp]) -> npt.NDArray[np.intp]:
        return np.clip(frames, 0, self.rows.shape[1] - 1)


def run_ear(signal: Signal, rate: float, network: EarNetwork | None = None) -> EarOutputs:
    """Return the network's outputs over a recording.

    Args:
        signal: mono, at any level, shape (samples,).
        rate: samples per second.
        network: by default the trained one.
    """
    network = network or load_network()
    slow, slow_rate = resample_signal(signal, rate)
    level = max(measure_level(slow), _LEAST_LEVEL)
    frames = len(slow) // HOP + 1
    rows = np.empty((len(network.output[0]), frames), np.float32)
    for first in range(0, frames, _CHUNK_FRAMES):
        last = min(frames, first + _CHUNK_FRAMES)
        begin, end = max(0, first - network.reach), min(frames, last + network.reach)
        outputs = network.predict(compute_features(slow, level, begin, end))
        rows[:, first:last] = outputs[:, first - begin : last - begin]
    return EarOutputs(rows=rows, rate=slow_rate / HOP)
