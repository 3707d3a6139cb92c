"""What each surface of a kit sounds like by itself: a few strokes of each, recorded once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.detected_take import Onset


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """How the drums of one kit sound in one room: by surface, the onsets of its strokes."""

    strokes: Mapping[str, tuple[Onset, ...]]

    @property
    def features(self) -> int:
        """How many numbers a colour has; 0 where there is none or they differ."""
        sizes = {one.timbre.size for own in self.strokes.values() for one in own}
        return sizes.pop() if len(sizes) == 1 else 0

    def means(self) -> dict[str, npt.NDArray[np.float64]]:
        """By surface, the middle of its colours."""
        return {
            name: np.median([one.timbre for one in own], axis=0) for name, own in self.strokes.items() if own
        }
