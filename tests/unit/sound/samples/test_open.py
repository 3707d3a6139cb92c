"""Opening sounds: what they are, and what is said of those that can't be used."""

import builtins
import os
import sys
from types import ModuleType

import pytest
from tests.needs import need_fluidsynth
from tests.soundfonts import Drum, soundfont, stroke

from fillwright.errors import SoundsError
from fillwright.sound.samples import fluidsynth as fluid
from fillwright.sound.samples import open as sounds_module
from fillwright.sound.samples.open import open_sounds

KIT = soundfont([Drum(keys=(key, key), samples=stroke(60 * key)) for key in (36, 38, 42)])


def refused(path, **options):
    with pytest.raises(SoundsError, match=r"[.?]$") as caught:
        open_sounds(path, warn=pytest.fail, **options)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_file_that_is_not_there(tmp_path):
    assert (
        refused(tmp_path / "a.sf2")
        == f'There is no file or folder "{tmp_path}/a.sf2"; check its name and place.'
    )


@pytest.mark.parametrize("name", ["a.wav", "sf2", "a.sfz"])
def test_a_file_of_another_kind(tmp_path, name):
    (tmp_path / name).write_bytes(KIT)
    assert "is no SoundFont; give a .sf2 or .sf3 file, or a folder with a map." in refused(tmp_path / name)


def test_a_device_is_not_read(tmp_path):
    (tmp_path / "a.sf2").symlink_to("/dev/zero")
    assert "is no SoundFont; give" in refused(tmp_path / "a.sf2")


def test_a_file_too_large(tmp_path):
    with (tmp_path / "a.sf2").open("wb") as file:
        file.truncate(sounds_module.LARGEST_SOUNDFONT_BYTES + 1_000_000)
    assert refused(tmp_path / "a.sf2") == '"a.sf2" has 2,001 MB; a SoundFont may have 2,000.'


@pytest.mark.parametrize("name", ["a" * 300 + ".sf2", "a\0.sf2"])
def test_names_that_no_file_has(tmp_path, name):
    assert "can't be read; check its name" in refused(tmp_path / name)


def test_an_empty_folder(tmp_path):
    assert refused(tmp_path).endswith("has no sounds.toml, which says which file is which stroke; write one.")


def test_a_table_of_keys_does_not_go_with_a_folder(tmp_path):
    assert refused(tmp_path, keys=tmp_path / "keys.toml").endswith("leave out --sound-keys.")


@pytest.fixture
def font(tmp_path):
    (tmp_path / "kit.sf2").write_bytes(KIT)
    fluid._library.cache_clear()
    yield tmp_path / "kit.sf2"
    fluid._library.cache_clear()


def test_without_the_python_package(font, monkeypatch):
    monkeypatch.setitem(sys.modules, "fluidsynth", None)
    assert refused(font) == (
        "SoundFonts need pyfluidsynth, which is not installed; "
        'install Fillwright with its extra "soundfonts", or leave out --sounds.'
    )


def test_without_the_library(font, monkeypatch):
    real = builtins.__import__

    def importing(name, *rest, **named):
        if name == "fluidsynth":
            raise ImportError("Couldn't find the FluidSynth library.")
        return real(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", importing)
    assert refused(font) == (
        "SoundFonts need FluidSynth, and its library is not on this machine; "
        "install FluidSynth, or leave out --sounds."
    )


@pytest.fixture
def _installed():
    need_fluidsynth()


@pytest.mark.usefixtures("_installed")
def test_a_file_that_fluidsynth_will_not_play(font, monkeypatch):
    import fluidsynth  # noqa: PLC0415

    monkeypatch.setattr(fluidsynth.Synth, "sfload", lambda *_: -1)
    assert refused(font) == '"kit.sf2" can\'t be played by FluidSynth; copy it anew or give another.'


@pytest.mark.usefixtures("_installed")
def test_a_name_that_can_not_be_handed_on(tmp_path):
    path = tmp_path / os.fsdecode(b"\xff.sf2")
    path.write_bytes(KIT)
    assert "can't be handed on; give the file a plainer name." in refused(path)


@pytest.mark.usefixtures("_installed")
def test_nothing_is_said_by_the_libraries(font, capfd, monkeypatch):
    """Not where the library was found, nor what it lacks: a report in JSON stands on the output."""
    monkeypatch.setenv("CI", "true")
    monkeypatch.delitem(sys.modules, "fluidsynth", raising=False)
    open_sounds(font, warn=pytest.fail).shot("snare", 80, 0)
    assert capfd.readouterr() == ("", "")


def test_a_module_of_that_name_that_is_another(font, monkeypatch):
    monkeypatch.setitem(sys.modules, "fluidsynth", ModuleType("fluidsynth"))
    assert refused(font).startswith("SoundFonts need FluidSynth, and its library is not on this machine;")


def test_what_is_wrong_with_a_file_is_said_before_anything_is_loaded(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "fluidsynth", None)
    (tmp_path / "a.sf2").write_bytes(KIT[:-100])
    assert "it is cut short" in refused(tmp_path / "a.sf2")
