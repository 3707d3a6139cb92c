"""The training: performances from worker processes, mixed and recorded on the GPU, one step of each network."""

from __future__ import annotations

import math
import multiprocessing
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from multiprocessing.context import BaseContext
from multiprocessing.queues import Queue
from pathlib import Path
from queue import Full
from typing import Any

import numpy as np
import torch
from torch import nn

from fillwright.listen.onsets.ear.features import HOP
from training.ear.export import write_case, write_network
from training.ear.kits import FONT_KITS
from training.ear.mixing import ShotBank
from training.ear.model import SHAPES, Features, Network
from training.ear.performance import Rows, ShotLibrary, perform_batch
from training.ear.recording import record
from training.ear.shots import Shot
from training.ear.sounds import RATE
from training.ear.targets import build_targets, measure_loss, number_drums

# From the trial.
_RATE, _DECAY = 2.5e-3, 1e-3  # highest learning rate, and weight decay
_WARM_UP = 0.02  # share of the training in which the rate rises
_MODELLED_SHARE = 0.5  # of the takes that are played on modelled kits
_LOG_SECONDS = 30.0  # between two lines of the log
_WAITING = 12  # batches that wait for the GPU
_CASE_SECONDS = 4  # of the stored case


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How to train.

    Attributes:
        seconds: time of the training; the learning rate falls to zero over it.
        most_steps: steps after which it ends before that.
        clips: takes in a batch.
        clip_seconds: length of each.
        workers: processes that play.
        sizes: networks that are trained, by their names in `SHAPES`.
        device: PyTorch's name of the device.
        seed: of everything random.
    """

    seconds: float = 420.0
    most_steps: int = 1_000_000
    clips: int = 48
    clip_seconds: float = 6.0
    workers: int = 14
    sizes: tuple[str, ...] = tuple(SHAPES)
    device: str = field(default_factory=lambda: "cuda" if torch.cuda.is_available() else "cpu")
    seed: int = 1


def weigh_kits(shots: Sequence[Shot]) -> dict[str, float]:
    """Return how often each kit is played: half of the takes on modelled kits, half on those of SoundFonts."""
    names = {shot.kit for shot in shots}
    fonts = {kit.name: kit.weight for kit in FONT_KITS if kit.name in names}
    modelled = sorted(names - set(fonts))
    share = _MODELLED_SHARE if fonts and modelled else 1.0
    weights = {name: (1 - share if modelled else 1.0) * w / sum(fonts.values()) for name, w in fonts.items()}
    return weights | {name: share / len(modelled) for name in modelled}


def train(shots: Sequence[Shot], plan: Plan, folder: Path) -> dict[str, list[float]]:
    """Train networks and write `ear-SIZE.npz` and `case-SIZE.npz` of each to a folder.

    Args:
        shots: of the kits to train on.
        plan: how to train.
        folder: that the files are written to.

    Returns:
        The mean loss of the last steps in its parts, by size: classes, offset, pitch, voice print.
    """
    start = time.monotonic()
    context = multiprocessing.get_context("fork")
    queue: Queue[Rows] = context.Queue(_WAITING)
    stop = context.Event()
    library = ShotLibrary(shots, weigh_kits(shots))
    workers = _start_workers(context, queue, stop, library, plan)
    try:
        trainer = _Trainer(shots, plan)
        _log(start, f"{len(shots):,} shots on {plan.device}; " + trainer.describe())
        _run(trainer, queue, plan, start)
        trainer.write(folder, queue.get(timeout=120))
    finally:
        stop.set()
        queue.cancel_join_thread()
        for worker in workers:
            worker.join(5)
            worker.terminate()
    return trainer.average_losses()


def _start_workers(
    context: BaseContext, queue: Queue[Rows], stop: Any, library: ShotLibrary, plan: Plan
) -> list[Any]:
    workers = [
        context.Process(target=_play, args=(queue, stop, library, plan, number), daemon=True)  # type: ignore[attr-defined]
        for number in range(plan.workers)
    ]
    for worker in workers:
        worker.start()
    return workers


def _play(queue: Queue[Rows], stop: Any, library: ShotLibrary, plan: Plan, number: int) -> None:
    """Play batch after batch until stopped; in a process of its own."""
    chance = np.random.default_rng([plan.seed, number])
    while not stop.is_set():
        rows = perform_batch(library, chance, plan.clips, plan.clip_seconds)
        while not stop.is_set():
            try:
                queue.put(rows, timeout=1)
                break
            except Full:
                continue
    queue.cancel_join_thread()


class _Trainer:
    """The networks with their optimisers, and what makes takes for them."""

    def __init__(self, shots: Sequence[Shot], plan: Plan) -> None:
        torch.manual_seed(plan.seed)
        torch.backends.cuda.matmul.allow_tf32 = True
        torch.backends.cudnn.allow_tf32 = True
        self.plan = plan
        self.bank = ShotBank(shots, plan.device)
        self.drums = torch.as_tensor(number_drums(shots), device=plan.device)
        self.features = Features().to(plan.device)
        self.networks = {size: Network(SHAPES[size]).to(plan.device) for size in plan.sizes}
        self.optimisers = {
            size: torch.optim.AdamW(network.parameters(), lr=_RATE, weight_decay=_DECAY)
            for size, network in self.networks.items()
        }
        self.losses: dict[str, list[torch.Tensor]] = {size: [] for size in plan.sizes}
        self.length = round(plan.clip_seconds * RATE)

    def step(self, rows: Rows, rate: float) -> None:
        """Make one step with every network."""
        with torch.no_grad():
            signal = record(self.bank.mix(rows, self.plan.clips, self.length), self.length)
            computed = self.features(signal)
            targets = build_targets(rows, self.drums, self.plan.clips, self.length // HOP + 1)
        for size, network in self.networks.items():
            optimiser = self.optimisers[size]
            for group in optimiser.param_groups:
                group["lr"] = rate
            loss, parts = measure_loss(network(computed), targets)
            optimiser.zero_grad(set_to_none=True)
            loss.backward()
            nn.utils.clip_grad_norm_(network.parameters(), 1.0)
            optimiser.step()
            self.losses[size].append(parts)

    def average_losses(self) -> dict[str, list[float]]:
        """Return the parts of the loss, averaged over the last 200 steps."""
        return {
            size: [round(float(part), 4) for part in torch.stack(losses[-200:]).mean(0)]
            for size, losses in self.losses.items()
        }

    def describe(self) -> str:
        """Return the sizes and the numbers of their weights."""
        counts = {size: sum(p.numel() for p in network.parameters()) for size, network in self.networks.items()}
        return ", ".join(f"{size} {count:,} weights" for size, count in counts.items())

    def write(self, folder: Path, rows: Rows) -> None:
        """Write the networks, and a case of each."""
        with torch.no_grad():
            signal = record(self.bank.mix(rows, self.plan.clips, self.length), self.length)[0]
            signal = torch.round(signal * 32767) / 32767
        for size, network in self.networks.items():
            write_network(folder / f"ear-{size}.npz", network)
            write_case(folder / f"case-{size}.npz", network, self.features, signal[: _CASE_SECONDS * RATE])


def _run(trainer: _Trainer, queue: Queue[Rows], plan: Plan, start: float) -> None:
    """Make steps until the time or the number of steps is over."""
    began, logged = time.monotonic(), time.monotonic()
    for step in range(plan.most_steps):
        done = max((time.monotonic() - began) / plan.seconds, step / plan.most_steps)
        if done >= 1:
            break
        rate = _RATE * min(1.0, done / _WARM_UP + 0.02) * (0.5 * (1 + math.cos(math.pi * done)) + 0.01)
        trainer.step(queue.get(timeout=120), rate)
        if step == 0 or time.monotonic() - logged > _LOG_SECONDS:
            logged = time.monotonic()
            _log(start, f"step {step}: {_describe_losses(trainer.average_losses())}; {queue.qsize()} waiting")
    _log(start, f"{step} steps: {_describe_losses(trainer.average_losses())}")


def _describe_losses(losses: Mapping[str, list[float]]) -> str:
    return "; ".join(f"{size} {' '.join(f'{part:.3f}' for part in parts)}" for size, parts in losses.items())


def _log(start: float, text: str) -> None:
    print(f"[{time.monotonic() - start:6.1f} s] {text}", flush=True)
