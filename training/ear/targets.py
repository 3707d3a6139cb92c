"""What the network should answer to a take, and how far off an answer is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from fillwright.listen.onsets.ear.features import HOP
from fillwright.listen.onsets.ear.outputs import ANY_ROW, CLASSES, OFFSET_ROW, PITCH_ROW, PRINT_ROW, ROWS
from training.ear.performance import Rows
from training.ear.shots import Shot
from training.ear.sounds import RATE

PRINT_FRAMES = 2
"""Frames after a stroke at which pitch and voice print are read; from a trial."""

TOGETHER_SECONDS = 0.010
"""Strokes nearer than this are one moment: a chord; the bench counts them the same way."""

# All ours, not measured, but those of the trial.
_NEIGHBOUR = 0.35  # target of the frames next to a stroke's
_POSITIVE_WEIGHT = 2.5  # of a stroke's frame against one without; from the trial
_ANY_WEIGHT = 3.0  # of "any stroke" against one class
_OFFSET_SCALE, _PITCH_SCALE, _PRINT_SCALE = 0.25, 0.3, 0.25  # of the parts of the loss; from the trial
_SHARPNESS = 8.0  # of the comparison of voice prints; from the trial
_ALONE_FRAMES = 7  # from every other stroke, a stroke's voice print counts


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """Targets of a batch; frames are the last axis.

    Attributes:
        odds: of the classes and of any stroke, shape (clips, classes + 1, frames).
        offsets: frames from each frame to the stroke, shape (clips, frames).
        has_offset: 1 where they count.
        pitches: octaves above 100 Hz, shape (clips, frames).
        has_pitch: 1 where they count.
        lone_clips: clip of each stroke that is alone.
        lone_frames: frame at which its voice print is read.
        lone_drums: number of its drum.
    """

    odds: Tensor
    offsets: Tensor
    has_offset: Tensor
    pitches: Tensor
    has_pitch: Tensor
    lone_clips: Tensor
    lone_frames: Tensor
    lone_drums: Tensor


def number_drums(shots: Sequence[Shot]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return the number of each shot's drum: shots on one drum of one kit have the same."""
    known: dict[tuple[str, str, int], int] = {}
    return np.array([known.setdefault((s.kit, s.sound, s.drum), len(known)) for s in shots], np.int64)


def build_targets(rows: Rows, drums: Tensor, clips: int, frames: int) -> Targets:
    """Return the targets of a batch.

    Args:
        rows: of the performances.
        drums: number of each shot's drum.
        clips: number of clips.
        frames: of each clip.
    """
    device = drums.device
    played = np.sort(rows[rows["label"] >= 0], order=["clip", "seconds"])
    is_drum = played["label"] != CLASSES.index("not a drum")
    odds = torch.zeros(clips, ANY_ROW + 1, frames, device=device)
    maps = torch.zeros(4, clips, frames, device=device)
    clip, label, seconds, shot = (
        torch.as_tensor(np.ascontiguousarray(played[key]), device=device)
        for key in ("clip", "label", "seconds", "shot")
    )
    at = seconds * RATE / HOP
    _mark(odds, clip, label, at)
    first = torch.as_tensor(_find_moments(played, is_drum), device=device)
    _mark(odds, clip[first], torch.full_like(label[first], ANY_ROW), at[first])
    for away in (2, -2, 1, -1, 0):
        frame = (at[first].round().long() + away).clamp(0, frames - 1)
        maps[0, clip[first], frame] = (at[first] - frame).float()
        maps[1, clip[first], frame] = 1
    pitch = torch.as_tensor(np.ascontiguousarray(played["pitch_hz"]), device=device).float()
    toms = pitch > 0
    for away in range(PRINT_FRAMES + 2):
        frame = (at[toms].round().long() + away).clamp(0, frames - 1)
        maps[2, clip[toms], frame] = torch.log2(pitch[toms] / 100)
        maps[3, clip[toms], frame] = 1
    lone = torch.ones(len(clip), dtype=torch.bool, device=device)
    near = (clip[1:] == clip[:-1]) & (at[1:] - at[:-1] < _ALONE_FRAMES)
    lone[1:] &= ~near
    lone[:-1] &= ~near
    return Targets(
        odds=odds,
        offsets=maps[0],
        has_offset=maps[1],
        pitches=maps[2],
        has_pitch=maps[3],
        lone_clips=clip[lone],
        lone_frames=(at[lone].round().long() + PRINT_FRAMES).clamp(0, frames - 1),
        lone_drums=drums[shot[lone]],
    )


def _find_moments(played: Rows, is_drum: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[int]:
    """Return the numbers of the strokes that begin a moment; those less than 10 ms after it belong to it."""
    first: list[int] = []
    for number in np.flatnonzero(is_drum):
        same = first and played["clip"][first[-1]] == played["clip"][number]
        if not same or played["seconds"][number] - played["seconds"][first[-1]] >= TOGETHER_SECONDS:
            first.append(int(number))
    return first


def _mark(odds: Tensor, clip: Tensor, row: Tensor, at: Tensor) -> None:
    """Set the frames of some strokes to 1 and their neighbours to less, where they aren't more already."""
    frames = odds.shape[2]
    for away, value in ((1, _NEIGHBOUR), (-1, _NEIGHBOUR), (0, 1.0)):
        frame = (at.round().long() + away).clamp(0, frames - 1)
        place = (clip * odds.shape[1] + row) * frames + frame
        odds.view(-1).scatter_reduce_(0, place, torch.full_like(at, value).float(), "amax")


def measure_loss(outputs: Tensor, targets: Targets) -> tuple[Tensor, Tensor]:
    """Return the loss, and its parts: classes, offset, pitch and voice print."""
    weight = torch.ones(ANY_ROW + 1, 1, device=outputs.device)
    weight[ANY_ROW] = _ANY_WEIGHT
    positive = torch.tensor(_POSITIVE_WEIGHT, device=outputs.device)
    entropy = functional.binary_cross_entropy_with_logits(
        outputs[:, : ANY_ROW + 1], targets.odds, reduction="none", pos_weight=positive
    )
    classes = (entropy * weight).mean() * 20
    offset = _average((outputs[:, OFFSET_ROW] - targets.offsets).abs(), targets.has_offset)
    pitch = _average((outputs[:, PITCH_ROW] - targets.pitches).abs(), targets.has_pitch)
    prints = compare_prints(outputs, targets)
    total = classes + _OFFSET_SCALE * offset + _PITCH_SCALE * pitch + _PRINT_SCALE * prints
    return total, torch.stack([classes, offset, pitch, prints]).detach()


def _average(errors: Tensor, counts: Tensor) -> Tensor:
    return (errors * counts).sum() / counts.sum().clamp_min(1)


def compare_prints(outputs: Tensor, targets: Targets) -> Tensor:
    """Return how badly voice prints tell the drums of a take apart.

    For each lone stroke: the cross-entropy of choosing, among the other lone strokes of its take, one on its
    own drum.
    """
    read = outputs[:, PRINT_ROW:ROWS].permute(0, 2, 1)[targets.lone_clips, targets.lone_frames]
    prints = functional.normalize(read, dim=1)
    similarity = _SHARPNESS * prints @ prints.T
    own = torch.eye(len(prints), dtype=torch.bool, device=prints.device)
    same_take = (targets.lone_clips[:, None] == targets.lone_clips) & ~own
    same_drum = same_take & (targets.lone_drums[:, None] == targets.lone_drums)
    odds = similarity - torch.logsumexp(similarity.masked_fill(~same_take, -1e4), 1, keepdim=True)
    others = same_drum.sum(1)
    entropy = -(odds * same_drum).sum(1) / others.clamp_min(1)
    counts = ((same_take & ~same_drum).any(1) & (others > 0)).float()
    return _average(entropy, counts)
