"""The whole training of the ear, small and on a CPU; PyTorch is an extra that CI does not install."""

import importlib.util
from dataclasses import replace

import numpy as np
import pytest

from fillwright.listen.onsets.ear.listen import run_ear
from fillwright.listen.onsets.ear.network import build_network
from fillwright.listen.onsets.ear.resample import RATE
from training.ear.compare import correlate_shots
from training.ear.kits import FONT_KITS, MODELLED_KITS
from training.ear.modelled_kits import render_modelled_shots
from training.ear.performance import ShotLibrary, perform_batch
from training.ear.shots import mark_attack, read_shots, write_shots
from training.ear.sounds import LEAD, SOUNDS


@pytest.fixture(name="shots", scope="module")
def _shots():
    return render_modelled_shots(7)


def test_every_sound_is_rendered_with_its_attack_marked(shots):
    assert {shot.sound for shot in shots} == set(SOUNDS)
    for shot in shots:
        assert mark_attack(shot.samples[LEAD - 24 :].astype(np.float64)) == pytest.approx(24, abs=24)


def test_toms_fall_in_pitch(shots):
    pitches = [
        next(s.pitch_hz for s in shots if s.sound == name) for name, facts in SOUNDS.items() if facts.is_tom
    ]
    assert pitches == sorted(pitches, reverse=True)
    assert len(set(pitches)) == 4


def test_two_kits_share_no_cymbal(shots):
    other = render_modelled_shots(8)
    first, second = (next(s for s in kit if s.sound == "crash") for kit in (shots, other))
    assert correlate_shots(first.samples, first.samples) == pytest.approx(1)
    assert correlate_shots(first.samples, second.samples) < 0.5


def test_shots_are_read_as_they_were_written(tmp_path, shots):
    write_shots(tmp_path / "shots.npz", shots[:5])
    for before, after in zip(shots[:5], read_shots(tmp_path / "shots.npz"), strict=True):
        assert np.array_equal(before.samples, after.samples)
        assert replace(before, samples=after.samples) == pytest.approx(after) or before.kit == after.kit


def test_no_kit_is_in_two_splits():
    seeds = [seed for split in MODELLED_KITS.values() for seed in split]
    assert len(seeds) == len(set(seeds)) == 150
    assert len({kit.name for kit in FONT_KITS}) == len(FONT_KITS)
    assert {kit.split for kit in FONT_KITS} == {"train", "choose", "final"}


def test_performances_are_the_same_for_the_same_seed(shots):
    library = ShotLibrary(shots, {shots[0].kit: 1.0})
    first, second = (perform_batch(library, np.random.default_rng(3), 2, 3.0) for _ in range(2))
    assert np.array_equal(first, second)
    assert len(first) > 4
    assert (first["start"] >= 0).all()


def test_a_network_is_trained_and_numpy_computes_what_pytorch_does(tmp_path, shots):
    if importlib.util.find_spec("torch") is None:
        pytest.skip("PyTorch is not installed (the extra train); the ear's training was not run")
    from training.ear.train import Plan, train  # noqa: PLC0415 - needs PyTorch

    plan = Plan(
        seconds=600, most_steps=12, clips=2, clip_seconds=4.0, workers=1, sizes=("small",), device="cpu"
    )
    losses = train(shots, plan, tmp_path)
    assert np.isfinite(losses["small"]).all()
    with np.load(tmp_path / "ear-small.npz") as file:
        network = build_network(dict(file))
    with np.load(tmp_path / "case-small.npz") as case:
        outputs = run_ear(case["signal"].astype(np.float32) / 32767, RATE, network)
        assert outputs.rows == pytest.approx(case["outputs"], abs=0.02)
