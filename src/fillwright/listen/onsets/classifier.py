"""Weighing the evidence: how sure it is that something was struck.

Eight weighted sums of the evidence, bent, and one weighted sum of those: weights are in `classifier.toml`.
They were found by `bench/listening/training.py` on the two kits that are never reported.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OnsetClassifier:
    """The weights.

    Attributes:
        middle: of each feature, shape (features,).
        spread: of each feature, shape (features,).
        inner: shape (features, sums).
        inner_offset: shape (sums,).
        outer: shape (sums,).
        outer_offset: of the last sum.
    """

    middle: Floats
    spread: Floats
    inner: Floats
    inner_offset: Floats
    outer: Floats
    outer_offset: float

    def confidence(self, evidence: Floats) -> Floats:
        """How sure it is, 0 to 1, that something was struck, shape (moments,)."""
        bent = np.tanh((evidence - self.middle) / self.spread @ self.inner + self.inner_offset)
        return np.asarray(1 / (1 + np.exp(-(bent @ self.outer + self.outer_offset))))


@cache
def load_classifier() -> OnsetClassifier:
    """The weights as they were found."""
    table = tomllib.loads(files(__package__).joinpath("classifier.toml").read_text("utf-8"))
    offset = table.pop("outer_offset")
    return OnsetClassifier(outer_offset=offset, **{key: np.array(value) for key, value in table.items()})
