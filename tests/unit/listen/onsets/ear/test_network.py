"""The network in numpy against what PyTorch computed at the end of the training (stored in case.npz)."""

from pathlib import Path

import numpy as np
import pytest

from fillwright.listen.onsets.ear.features import HOP, compute_features, measure_level
from fillwright.listen.onsets.ear.listen import run_ear
from fillwright.listen.onsets.ear.network import build_network, load_network
from fillwright.listen.onsets.ear.outputs import ROWS
from fillwright.listen.onsets.ear.resample import RATE

EVERY = 8  # frames of the stored features


@pytest.fixture(name="case", scope="module")
def _case():
    with np.load(Path(__file__).with_name("case.npz")) as file:
        return dict(file) | {"signal": file["signal"].astype(np.float32) / 32767}


def test_features_are_those_of_the_training(case):
    signal = case["signal"]
    features = compute_features(signal, measure_level(signal), 0, len(signal) // HOP + 1)
    assert features[:, :, ::EVERY] == pytest.approx(
        case["features"], abs=5e-3
    )  # its GPU rounds products to 10 bits


def test_outputs_are_those_of_the_training(case):
    outputs = run_ear(case["signal"], RATE)
    assert outputs.rows.shape == (ROWS, len(case["signal"]) // HOP + 1)
    assert outputs.rows == pytest.approx(case["outputs"], abs=0.02)
    assert np.ptp(case["outputs"]) > 5


def test_a_recording_in_chunks_gives_the_same_outputs_as_in_one_piece(case):
    network, signal = load_network(), np.tile(case["signal"], 3)
    frames = len(signal) // HOP + 1
    whole = network.predict(compute_features(signal, measure_level(signal), 0, frames))
    assert frames > 2000
    assert run_ear(signal, RATE).rows == pytest.approx(whole, abs=1e-3)


def test_the_volume_of_a_recording_does_not_matter(case):
    loud, soft = run_ear(case["signal"], RATE), run_ear(case["signal"] * 0.01, RATE)
    assert soft.rows == pytest.approx(loud.rows, abs=0.02)


def test_weights_of_another_version_are_refused():
    with pytest.raises(ValueError, match="weights are version 99; this program needs version 1"):
        build_network({"version": np.array(99)})


def test_the_weights_stay_small():
    from importlib.resources import files  # noqa: PLC0415 - used here alone

    assert len(files("fillwright.listen.onsets.ear").joinpath("ear.npz").read_bytes()) < 700_000
