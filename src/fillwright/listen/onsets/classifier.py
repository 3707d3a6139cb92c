"""The onset classifier: from features of an onset candidate to the probability that it is a stroke.

Two-layer network: eight tanh units over the standardised features, one logistic output. The weights are in
`classifier.toml`; `bench/listening/training.py` wrote them, trained on the kits that are never reported
(docs/sources.md lists them).
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
    """A two-layer network and the standardisation of its features.

    Attributes:
        feature_means: shape (features,).
        feature_deviations: standard deviations, shape (features,).
        hidden_weights: shape (features, units).
        hidden_biases: shape (units,).
        output_weights: shape (units,).
        output_bias: of the logistic output.
    """

    feature_means: Floats
    feature_deviations: Floats
    hidden_weights: Floats
    hidden_biases: Floats
    output_weights: Floats
    output_bias: float

    def predict_confidence(self, features: Floats) -> Floats:
        """Return the probability of a stroke for each candidate, shape (candidates,).

        Args:
            features: shape (candidates, features).
        """
        standardised = (features - self.feature_means) / self.feature_deviations
        hidden = np.tanh(standardised @ self.hidden_weights + self.hidden_biases)
        return np.asarray(1 / (1 + np.exp(-(hidden @ self.output_weights + self.output_bias))))


@cache
def load_classifier() -> OnsetClassifier:
    """Load the trained classifier."""
    table = tomllib.loads(files(__package__).joinpath("classifier.toml").read_text("utf-8"))
    bias = table.pop("output_bias")
    return OnsetClassifier(output_bias=bias, **{key: np.array(value) for key, value in table.items()})
