"""Folders of recorded strokes, made of tones that the tests write."""

import math
import os

import numpy as np
import pytest
import soundfile

from fillwright.sound.samples import folder as folder_module
from fillwright.sound.samples.folder import FolderSource
from fillwright.sound.samples.folder_map import MAP
from fillwright.sound.signal import SAMPLE_RATE
from fillwright.tables.sounds import read_folder_map
from tests.soundfonts import stroke


def open_folder(place, warn):
    return FolderSource(place, read_folder_map(place, warn=warn), warn)


class Kit:
    """A folder to fill, and the warnings."""

    def __init__(self, place):
        self.place = place
        self.warned = []

    def file(self, name, hz=400.0, *, rate=SAMPLE_RATE, channels=1, **how):
        path = self.place / name
        path.parent.mkdir(exist_ok=True)
        soundfile.write(str(path), np.repeat(stroke(hz, rate=rate, **how)[:, None], channels, axis=1), rate)
        return path

    def map(self, text):
        (self.place / MAP).write_text(text, "utf-8")

    def open(self, text):
        self.map(text)
        return open_folder(self.place, self.warned.append)


@pytest.fixture
def kit(tmp_path):
    place = tmp_path / "kit"
    place.mkdir()
    return Kit(place)


def sound(surface, *files, more=""):
    return f'[[sound]]\nsurface = "{surface}"\nfiles = {list(files)}\n{more}\n'


def pitch(samples):
    part = samples[:8192, 0] * np.hanning(len(samples[:8192]))
    return np.argmax(np.abs(np.fft.rfft(part, 65536))) * SAMPLE_RATE / 65536


def height(take):
    return float(np.abs(take.samples).max())


def test_layers_and_alternates(kit):
    for number in (1, 2, 3):
        kit.file(f"hard {number}.wav", 1000 * number)
        kit.file(f"soft/{number}.flac", 300 * number)
    source = kit.open(
        sound("snare", "hard 1.wav", "hard 2.wav", "hard 3.wav")
        + sound("snare", "soft/1.flac", "soft/2.flac", more="up_to = 60")
    )
    hard = [pitch(source.get_stroke("snare", 112, index).samples) for index in range(4)]
    soft = [pitch(source.get_stroke("snare", 60, index).samples) for index in range(3)]
    assert hard == pytest.approx([1000, 2000, 3000, 1000], rel=0.01)
    assert soft == pytest.approx([300, 600, 300], rel=0.01)
    assert kit.warned == []


def test_a_file_is_played_as_it_is_at_the_hardest_of_its_layer(kit):
    kit.file("a.wav", level=0.5)
    source = kit.open(sound("snare", "a.wav") + sound("rim", "a.wav", more="up_to = 100"))
    assert height(source.get_stroke("snare", 127, 0)) == pytest.approx(0.5, abs=0.001)
    assert (
        height(source.get_stroke("rim", 100, 0))
        == height(source.get_stroke("rim", 127, 0))
        == pytest.approx(0.5, abs=0.001)
    )
    assert height(source.get_stroke("snare", 80, 0)) == pytest.approx(0.5 * (79 / 127) ** 2, abs=0.001)
    assert height(source.get_stroke("snare", 1, 0)) > 0


def test_gains_add_up(kit):
    kit.file("a.wav", level=0.5)
    plain = height(kit.open(sound("snare", "a.wav")).get_stroke("snare", 112, 0))
    louder = height(
        kit.open("gain_db = -3\n" + sound("snare", "a.wav", more="gain_db = 5")).get_stroke("snare", 112, 0)
    )
    assert 20 * math.log10(louder / plain) == pytest.approx(2, abs=0.01)


@pytest.mark.parametrize("rate", [8_000, 22_050, 44_100, 48_000, 96_000, 44_099])
@pytest.mark.parametrize("channels", [1, 2])
def test_rates_and_channels_are_converted(kit, rate, channels):
    kit.file("a.wav", 1000, rate=rate, channels=channels, seconds=0.4)
    take = kit.open(sound("snare", "a.wav")).get_stroke("snare", 127, 0)
    assert take.samples.shape == (pytest.approx(0.4 * SAMPLE_RATE, abs=30), 2)
    assert pitch(take.samples) == pytest.approx(1000, rel=0.01)
    assert height(take) == pytest.approx(0.8, rel=0.15)


@pytest.mark.parametrize("wait_ms", [0.3, 3.3, 21])
def test_the_silence_before_an_attack_is_removed(kit, wait_ms):
    kit.file("a.wav", wait=round(wait_ms * 48), rate=48_000)
    take = kit.open(sound("snare", "a.wav")).get_stroke("snare", 112, 0)
    assert take.latency == pytest.approx(max(0, wait_ms * 44.1 - 16), abs=12)
    assert np.argmax(np.abs(take.samples[:, 0]) > 0.1 * height(take)) <= 20


def test_a_long_file_is_read_in_part(kit, monkeypatch):
    monkeypatch.setattr(folder_module, "MOST_SECONDS", 0.1)
    kit.file("a.wav", seconds=1.0)
    assert len(kit.open(sound("snare", "a.wav")).get_stroke("snare", 112, 0).samples) == round(
        0.1 * SAMPLE_RATE
    )


def test_a_surface_without_a_file_has_no_stroke(kit):
    kit.file("a.wav")
    source = kit.open(sound("snare", "a.wav"))
    assert source.get_stroke("kick", 80, 0) is None
    assert source.surfaces == ("snare",)


def broken(kit):
    """Write files without a usable stroke; return each with its warning."""
    kit.file("many.wav", channels=3)
    kit.file("slow.wav", rate=4000)
    (kit.place / "noise.wav").write_bytes(bytes(range(256)) * 9)
    (kit.place / "empty.flac").write_bytes(b"")
    (kit.place / "folder.wav").mkdir()
    soundfile.write(str(kit.place / "silent.wav"), np.zeros(4000), SAMPLE_RATE)
    soundfile.write(str(kit.place / "wild.wav"), np.full(4000, np.nan), SAMPLE_RATE, subtype="FLOAT")
    with (kit.place / "huge.wav").open("wb") as file:
        file.truncate(100_000_001)
    cut = kit.file("cut.flac").read_bytes()
    (kit.place / "cut.flac").write_bytes(cut[:30])
    return {
        "many.wav": "it has 3 channels at 44100 Hz; use 1 or 2 channels at 8,000 to 192,000 Hz",
        "slow.wav": "it has 1 channel at 4000 Hz; use 1 or 2 channels at 8,000 to 192,000 Hz",
        "noise.wav": "it can't be read as sound",
        "empty.flac": "it can't be read as sound",
        "cut.flac": "it can't be read as sound",
        "folder.wav": "there is no file of this name",
        "gone.wav": "there is no file of this name",
        "silent.wav": "it is empty or silent, or contains invalid numbers",
        "wild.wav": "it is empty or silent, or contains invalid numbers",
        "huge.wav": "it is larger than 100 MB, the most that is accepted",
    }


def test_broken_files_are_skipped_with_one_warning_each(kit):
    said = broken(kit)
    kit.file("good.wav", 700)
    source = kit.open(sound("snare", *said, "good.wav") + sound("kick", "gone.wav"))
    for index in range(3):
        assert pitch(source.get_stroke("snare", 112, index).samples) == pytest.approx(700, rel=0.01)
        assert source.get_stroke("kick", 112, index) is None
    told = [f'"{name}" in "kit" is skipped: {why}.' for name, why in said.items()]
    assert kit.warned == [*told, '"gone.wav" in "kit" is skipped: there is no file of this name.']


def test_a_layer_whose_files_are_all_broken_leaves_its_strokes_to_the_next(kit):
    kit.file("good.wav", 700)
    source = kit.open(sound("snare", "gone.wav", more="up_to = 60") + sound("snare", "good.wav"))
    assert pitch(source.get_stroke("snare", 38, 0).samples) == pytest.approx(700, rel=0.01)


def test_files_are_read_when_they_are_needed(kit):
    kit.open(sound("snare", "gone.wav"))
    assert kit.warned == []


def test_the_digest_is_that_of_map_and_files(kit):
    kit.file("a.wav")
    first = kit.open(sound("snare", "a.wav", "gone.wav")).digest
    assert kit.open(sound("snare", "a.wav", "gone.wav")).digest == first
    assert kit.open(sound("snare", "a.wav", "gone.wav") + "# said").digest != first
    kit.file("a.wav", level=0.3)
    changed = kit.open(sound("snare", "a.wav", "gone.wav")).digest
    kit.file("gone.wav")
    assert len({first, changed, kit.open(sound("snare", "a.wav", "gone.wav")).digest}) == 3


def test_chokes_of_all_layers_go_together(kit):
    source = kit.open(
        sound("crash", "a.wav", more='choked_by = ["splash"]')
        + sound("crash", "b.wav", more='up_to = 60\nchoked_by = ["china"]')
    )
    assert source.choked_by == {"crash": {"splash", "china"}}


def test_a_folder_may_be_named_by_a_link(kit, tmp_path):
    kit.file("a.wav")
    kit.map(sound("snare", "a.wav"))
    (tmp_path / "alias").symlink_to(kit.place)
    assert open_folder(tmp_path / "alias", print).get_stroke("snare", 112, 0)


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is closed to root")
def test_a_file_that_may_not_be_read_is_left_out(kit):
    kit.file("a.wav").chmod(0)
    assert kit.open(sound("snare", "a.wav")).get_stroke("snare", 112, 0) is None
    assert kit.warned == ['"a.wav" in "kit" is skipped: it can\'t be read as sound.']
