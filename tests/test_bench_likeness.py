"""The bench of the modelled kit names what is not installed, and leaves out the numbers that need it."""

from dataclasses import replace
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

from fillwright.sound.signal import SAMPLE_RATE

VELOCITIES = (45, 80, 112)


@pytest.fixture
def likeness(monkeypatch):
    """The bench, which is a program next to the tests."""
    monkeypatch.syspath_prepend(Path(__file__).parents[1])
    return import_module("bench.likeness")


@pytest.fixture
def recorded(likeness):
    return import_module("bench.recorded")


class ToneBank:
    """A bank of decaying tones, the same for every surface."""

    def get_shot(self, _name, velocity, index):
        return tone(200 + velocity + index)


def tone(hz):
    times = np.arange(SAMPLE_RATE) / SAMPLE_RATE
    side = np.sin(2 * np.pi * hz * times) * np.exp(-8 * times)
    return np.stack([side, side], axis=1).astype(np.float32)


def sounds(*names, kits):
    """Return recorded sounds of some surfaces on so many kits."""
    return {
        (name, velocity): tuple(tone(300 + 40 * kit) for kit in range(kits))
        for name in names
        for velocity in VELOCITIES
    }


def test_missing_kits_are_named_and_nothing_is_measured(likeness, recorded, monkeypatch, capsys):
    monkeypatch.setattr(likeness, "load_fluidsynth", object)
    missing = tuple(replace(kit, path=Path("/nowhere.sf2")) for kit in recorded.KITS)
    monkeypatch.setattr(likeness, "KITS", missing)
    assert likeness.VELOCITIES == VELOCITIES
    assert likeness.main() == {}
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(" is missing")[0] for line in lines] == [f"likeness: {kit.name}" for kit in missing]
    assert all("apt-get install" in line for line in lines)


def test_without_fluidsynth_nothing_is_measured(likeness, monkeypatch, capsys):
    monkeypatch.setattr(likeness, "load_fluidsynth", lambda: None)
    assert likeness.main() == {}
    assert "it needs FluidSynth" in capsys.readouterr().out


def test_a_missing_kit_is_not_rendered(recorded):
    kit = replace(recorded.KITS[0], path=Path("/nowhere.sf2"))
    with pytest.raises(FileNotFoundError, match="acoustic A is not installed: apt-get install"):
        recorded.render_shots(kit, (80,))


def test_one_recorded_kit_gives_no_ratio(likeness):
    assert likeness.compute_ratio("snare", ToneBank(), sounds("snare", "crash", kits=1)) is None


def test_two_recorded_kits_give_a_ratio(likeness):
    assert likeness.compute_ratio("snare", ToneBank(), sounds("snare", kits=2)) > 0


def test_crashes_stand_in_for_a_surface_of_one_kit(likeness):
    both = sounds("splash", kits=1) | sounds("crash", kits=2)
    assert likeness.compute_ratio("splash", ToneBank(), both) > 0


def test_a_surface_without_a_ratio_is_left_out(likeness, recorded, monkeypatch, capsys):
    monkeypatch.setattr(likeness, "choose_kits", lambda: recorded.KITS[:1])
    monkeypatch.setattr(likeness, "collect_sounds", lambda _kits: sounds("snare", kits=1))
    monkeypatch.setattr(likeness, "default_bank", ToneBank)
    assert likeness.main() == {}
    assert "snare              left out: two recorded kits" in capsys.readouterr().out
