"""The ear's network and features in PyTorch, for training; `listen/onsets/ear` holds the same in numpy."""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch import Tensor, nn
from torch.nn import functional

from fillwright.listen.onsets.ear import features as ear_features
from fillwright.listen.onsets.ear.outputs import ANY_ROW, ROWS
from fillwright.listen.onsets.ear.resample import RATE, build_taps

WINDOW_ROOM = 4096  # samples of silence after a clip, so that the slower signal has as many frames; ours
_RARE_LOGIT = -3.5  # bias of classes at the start of training: few frames have a stroke


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """Size of a network: channels of the two 2-D convolutions, width and dilations of the blocks."""

    channels: tuple[int, int]
    width: int
    dilations: tuple[int, ...]


SHAPES = {
    "small": Shape(channels=(8, 16), width=48, dilations=(1, 2, 4, 8, 16)),
    "middle": Shape(channels=(12, 16), width=64, dilations=(1, 2, 4, 8, 16, 1, 2)),
    "large": Shape(channels=(16, 24), width=88, dilations=(1, 2, 4, 8, 16, 1, 2, 4)),
}
"""Sizes that are trained together on the same takes."""


class Features(nn.Module):
    """Spectrograms, as `fillwright.listen.onsets.ear.features` computes them."""

    def __init__(self) -> None:
        super().__init__()
        bands, low = ear_features.BANDS, ear_features.LOW_BANDS
        self.period = ear_features.SLOW_PERIOD * ear_features.SLOWER
        arrays = {
            "window": ear_features.build_window(),
            "bands": ear_features.build_filterbank(bands, RATE),
            "low_bands": ear_features.build_filterbank(low, RATE / ear_features.SLOWER),
            "taps": build_taps(ear_features.SLOW_PERIOD, self.period),
        }
        for name, array in arrays.items():
            self.register_buffer(name, torch.tensor(array))

    def forward(self, signal: Tensor) -> Tensor:
        """Return features, shape (clips, 2, bands, frames), of signals, shape (clips, samples)."""
        clips, length = signal.shape
        blocks = signal[:, : length // ear_features.BLOCK * ear_features.BLOCK]
        energies = blocks.reshape(clips, -1, ear_features.BLOCK).square().mean(2)
        least = ear_features.QUIET_RATIO * energies.amax(1, keepdim=True)
        loud = torch.where(energies >= least, energies, torch.full_like(energies, torch.nan))
        level = torch.nanquantile(loud, ear_features.LOUD_SHARE, dim=1).sqrt().clamp_min(1e-9)
        scaled = signal * (ear_features.LEVEL / level[:, None])
        short = self._compute_bands(scaled, self.bands, ear_features.HOP)
        slow = self._slow_down(scaled)
        low = self._compute_bands(slow, self.low_bands, ear_features.HOP // ear_features.SLOWER)
        frames = short.shape[2]
        long = torch.cat([low[:, :, :frames], short[:, ear_features.LOW_BANDS :]], 1)
        return torch.stack([short, long], 1)

    def _slow_down(self, signal: Tensor) -> Tensor:
        """Return signals at a quarter of the rate, longer by up to a second of silence."""
        reach = (self.taps.shape[1] - self.period) // 2
        silence = self.period - signal.shape[1] % self.period + WINDOW_ROOM
        padded = functional.pad(signal, (reach, reach + silence))
        return (padded.unfold(1, self.taps.shape[1], self.period) @ self.taps.T).flatten(1)

    def _compute_bands(self, signal: Tensor, bands: Tensor, hop: int) -> Tensor:
        window = self.window
        spectrum = torch.stft(signal, len(window), hop, window=window, pad_mode="constant", return_complex=True)
        levels = torch.matmul(bands, spectrum.abs().square()) / window.sum().square()
        return (torch.log10(levels * ear_features.SCALE + ear_features.FLOOR) + 2) * 0.5


class Block(nn.Module):
    """A residual block: a convolution over three frames, then a dense layer."""

    def __init__(self, width: int, dilation: int, dropped: float) -> None:
        super().__init__()
        self.over_time = nn.Conv1d(width, width, 3, padding=dilation, dilation=dilation, bias=False)
        self.norm = nn.BatchNorm1d(width)
        self.dense = nn.Conv1d(width, width, 1)
        self.drop = nn.Dropout1d(dropped)

    def forward(self, hidden: Tensor) -> Tensor:
        """Return the sum of input and block."""
        return hidden + self.dense(self.drop(functional.relu(self.norm(self.over_time(hidden)))))


class Network(nn.Module):
    """The network; batch normalisation is folded into the weights when they are exported."""

    def __init__(self, shape: Shape, dropped: float = 0.05) -> None:
        super().__init__()
        first, second = shape.channels
        self.shape = shape
        self.front = nn.ModuleList(
            [
                nn.Conv2d(2, first, (3, 5), stride=(2, 1), padding=(1, 2), bias=False),
                nn.Conv2d(first, second, 3, stride=(2, 1), padding=1, bias=False),
            ]
        )
        self.front_norms = nn.ModuleList([nn.BatchNorm2d(first), nn.BatchNorm2d(second)])
        self.dense = nn.Conv1d(second * ear_features.BANDS // 4, shape.width, 1, bias=False)
        self.norm = nn.BatchNorm1d(shape.width)
        self.blocks = nn.ModuleList(Block(shape.width, dilation, dropped) for dilation in shape.dilations)
        self.output = nn.Conv1d(shape.width, ROWS, 1)
        with torch.no_grad():
            self.output.bias[: ANY_ROW + 1] = _RARE_LOGIT

    def forward(self, features: Tensor) -> Tensor:
        """Return outputs, shape (clips, rows, frames)."""
        layer = features
        for convolution, norm in zip(self.front, self.front_norms, strict=True):
            layer = functional.relu(norm(convolution(layer)))
        hidden = functional.relu(self.norm(self.dense(layer.flatten(1, 2))))
        for block in self.blocks:
            hidden = block(hidden)
        return self.output(functional.relu(hidden))
