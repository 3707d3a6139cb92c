"""The ear's network in plain numpy: convolutions, sums and maxima with zero, and nothing else.

Two 2-D convolutions over bands and frames, each halving the bands; a dense layer over what remains of a frame;
residual blocks of 1-D convolutions over time, with growing gaps; a dense layer for the outputs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]

VERSION = 1
"""Version of the weights' file; counted up when the network's shape or its features change."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EarNetwork:
    """The weights of the network.

    Attributes:
        version: of the file.
        front: weights and biases of the 2-D convolutions: shapes (out, in, bands, frames) and (out,).
        dense: weights and biases of the dense layer, shapes (width, inputs) and (width,).
        blocks: of each residual block, weights and biases of a convolution over three frames and of a dense
            layer: shapes (3, width, width), (width,), (width, width), (width,).
        dilations: frames between the three of each block.
        output: weights and biases of the outputs, shapes (rows, width) and (rows,).
    """

    version: int
    front: tuple[tuple[Floats, Floats], ...]
    dense: tuple[Floats, Floats]
    blocks: tuple[tuple[Floats, Floats, Floats, Floats], ...]
    dilations: tuple[int, ...]
    output: tuple[Floats, Floats]

    @property
    def reach(self) -> int:
        """Number of frames on each side that an output depends on."""
        return sum(self.dilations) + sum(int(weights.shape[3]) // 2 for weights, _ in self.front)

    def predict(self, features: Floats) -> Floats:
        """Return the outputs of some frames, shape (rows, frames); outside them all layers are zero.

        Args:
            features: shape (2, bands, frames).
        """
        layer = features
        for weights, biases in self.front:
            layer = _convolve_bands(layer, weights, biases)
        hidden = _apply_dense(layer.reshape(-1, layer.shape[2]), *self.dense)
        np.maximum(hidden, 0, out=hidden)
        for block, dilation in zip(self.blocks, self.dilations, strict=True):
            hidden += _apply_block(hidden, block, dilation)
        return _apply_dense(np.maximum(hidden, 0), *self.output)


def _apply_dense(layer: Floats, weights: Floats, biases: Floats) -> Floats:
    return np.asarray(weights @ layer + biases[:, None], np.float32)


def _convolve_bands(layer: Floats, weights: Floats, biases: Floats) -> Floats:
    """Return a convolution over bands and frames: every other band, and nothing below zero."""
    out, channels, height, width = weights.shape
    _, bands, frames = layer.shape
    padded = np.pad(layer, ((0, 0), (height // 2, height // 2), (width // 2, width // 2)))
    half = bands // 2
    columns = np.empty((channels * height * width, half, frames), np.float32)
    pieces = columns.reshape(channels, height, width, half, frames)
    for row in range(height):
        for column in range(width):
            pieces[:, row, column] = padded[:, row : row + bands : 2, column : column + frames]
    convolved = weights.reshape(out, -1) @ columns.reshape(len(columns), -1) + biases[:, None]
    return np.asarray(np.maximum(convolved, 0, out=convolved).reshape(out, half, frames), np.float32)


def _apply_block(hidden: Floats, block: tuple[Floats, Floats, Floats, Floats], dilation: int) -> Floats:
    """Return what a residual block adds."""
    before_now_after, biases, weights, more_biases = block
    frames = hidden.shape[1]
    convolved = before_now_after[1] @ hidden + biases[:, None]
    if frames > dilation:
        convolved[:, dilation:] += before_now_after[0] @ hidden[:, :-dilation]
        convolved[:, :-dilation] += before_now_after[2] @ hidden[:, dilation:]
    return _apply_dense(np.maximum(convolved, 0, out=convolved), weights, more_biases)


def build_network(arrays: Mapping[str, npt.NDArray[np.floating]]) -> EarNetwork:
    """Return a network from the arrays of its file, which `training/ear/export.py` writes.

    Raises:
        ValueError: if the file is of another version.
    """
    version = int(arrays["version"])
    if version != VERSION:
        raise ValueError(f"The ear's weights are version {version}; this program needs version {VERSION}.")
    values = {name: np.asarray(array, np.float32) for name, array in arrays.items()}
    blocks = len(values["dilations"])
    return EarNetwork(
        version=version,
        front=tuple((values[f"front{n}.weights"], values[f"front{n}.biases"]) for n in range(2)),
        dense=(values["dense.weights"], values["dense.biases"]),
        blocks=tuple(
            (
                values[f"block{n}.time_weights"],
                values[f"block{n}.time_biases"],
                values[f"block{n}.weights"],
                values[f"block{n}.biases"],
            )
            for n in range(blocks)
        ),
        dilations=tuple(int(dilation) for dilation in values["dilations"]),
        output=(values["output.weights"], values["output.biases"]),
    )


@cache
def load_network() -> EarNetwork:
    """Load the trained network."""
    with files(__package__).joinpath("ear.npz").open("rb") as file, np.load(file) as arrays:
        return build_network(arrays)
