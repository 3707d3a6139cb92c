"""The sound of each surface of one kit alone, from a few recorded strokes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.detected_take import Onset


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """The strokes of one kit in one room: by surface, its onsets."""

    strokes: Mapping[str, tuple[Onset, ...]]

    @property
    def timbre_size(self) -> int:
        """Number of features of a timbre; 0 if there are none or the sizes differ."""
        sizes = {onset.timbre.size for onsets in self.strokes.values() for onset in onsets}
        return sizes.pop() if len(sizes) == 1 else 0

    def calculate_median_timbres(self) -> dict[str, npt.NDArray[np.float64]]:
        """Return the median timbre of each surface, shape (features,)."""
        return {
            name: np.median([onset.timbre for onset in onsets], axis=0)
            for name, onsets in self.strokes.items()
            if onsets
        }
