"""Mixing on the GPU: rows of a performance become stems, the sounds at one place of a kit added up."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import torch
from torch import Tensor

from training.ear.performance import Rows
from training.ear.shots import Shot
from training.ear.sounds import LEAD, RATE, STEMS

_SHORT, _LONG = round(0.95 * RATE), round(2.55 * RATE)  # samples of a short and of the longest shot
_TOGETHER = 1200  # shots that are added at once, for memory
_LEVEL_SAMPLES = round(0.06 * RATE)  # after the attack, whose root mean square a shot is brought to 1 by
_CHOKE_SAMPLES, _RATTLE_SAMPLES = 0.02 * RATE, 0.015 * RATE  # of a choked end, and of the rise of snare wires


class ShotBank:
    """All shots on the GPU, as long as the longest, each at level 1.

    Args:
        shots: rows name them by number.
        device: PyTorch's name of the device.
    """

    def __init__(self, shots: Sequence[Shot], device: str) -> None:
        bank = torch.zeros(len(shots), _LONG + 2, dtype=torch.float16)
        for number, shot in enumerate(shots):
            samples = shot.samples[:_LONG].astype(np.float32)
            level = np.sqrt(np.mean(samples[LEAD : LEAD + _LEVEL_SAMPLES] ** 2)) + 1e-3
            bank[number, : len(samples)] = torch.from_numpy(samples / level)
        self.bank = bank.to(device)
        self.lengths = torch.tensor([min(len(shot.samples), _LONG) for shot in shots], device=device)
        self.device = device

    def mix(self, rows: Rows, clips: int, length: int) -> Tensor:
        """Return the stems of some clips, shape (clips, stems, length + the longest shot)."""
        total = length + _LONG
        stems = torch.zeros(clips * STEMS * total, device=self.device)
        columns = {
            key: torch.as_tensor(np.ascontiguousarray(rows[key]), device=self.device)
            for key in ("clip", "start", "shot", "gain", "speed", "cut", "stem")
        }
        is_short = self.lengths[columns["shot"]] / columns["speed"] <= _SHORT
        for chosen, size in ((is_short, _SHORT), (~is_short, _LONG)):
            numbers = torch.nonzero(chosen)[:, 0]
            for part in numbers.split(_TOGETHER):
                row = {key: column[part] for key, column in columns.items()}
                first = torch.floor(row["start"]).clamp_min(0)
                sounds = self._play(row, (row["start"] - first).float(), size)
                base = (row["clip"] * STEMS + row["stem"]) * total + first.long()
                at = base[:, None] + torch.arange(size, device=self.device)
                stems.index_add_(0, at.reshape(-1), sounds.reshape(-1))
        return stems.view(clips, STEMS, total)

    def _play(self, row: dict[str, Tensor], fraction: Tensor, size: int) -> Tensor:
        """Return shots at their speeds and gains, choked where they are, shape (shots, size)."""
        sample = torch.arange(size, device=self.device, dtype=torch.float32)[None]
        place = ((sample - fraction[:, None]) * row["speed"][:, None].float()).clamp_(0, _LONG)
        before = place.floor().long()
        share = place - before
        shot = row["shot"][:, None]
        sounds = self.bank[shot, before].float() * (1 - share) + self.bank[shot, before + 1].float() * share
        cut = row["cut"][:, None].float()
        choked = ((cut - sample) / _CHOKE_SAMPLES + 1).clamp(0, 1)
        rattling = (sample / _RATTLE_SAMPLES).clamp(0, 1)
        return sounds * torch.where(cut < 0, rattling, choked) * row["gain"][:, None].float()
