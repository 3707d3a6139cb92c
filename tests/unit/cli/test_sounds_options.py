"""--sounds and --sound-keys in every command that plays, and what is told of sounds that can't be used."""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fillwright.cli.main import main
from tests.needs import need_fluidsynth
from tests.soundfonts import Drum, soundfont, stroke

Captured = pytest.CaptureFixture[str]
PLAY = ["playalong", "--figure", "flam tap", "--bars", "1", "--beats", "2", "--tempo", "200", "--count-in", "0"]
MAP = """
[[sound]]
surface = "snare"
files = ["snare.wav", "broken.wav"]

[[sound]]
surface = "kick"
files = ["kick.wav"]
"""
LESSON = """number = 1
title = "Small"
tempo = [120]
bars = 1
audio = "wav"

[[figure]]
name = "single paradiddle"
steps = ["last beat"]
"""


@pytest.fixture(autouse=True)
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of its own with a folder of sounds in it."""
    monkeypatch.chdir(tmp_path)
    kit = tmp_path / "kit"
    kit.mkdir()
    for name, hz in (("snare", 300), ("kick", 60)):
        soundfile.write(str(kit / f"{name}.wav"), stroke(hz), 44_100)
    (kit / "broken.wav").write_bytes(b"no sound at all")
    (kit / "sounds.toml").write_text(MAP)
    (tmp_path / "lesson.toml").write_text(LESSON)
    (tmp_path / "random.sf2").write_bytes(np.random.default_rng(1).bytes(20_000))
    return tmp_path


BROKEN = '"broken.wav" in "kit" is skipped: it can\'t be read as sound.'
COMMANDS = {
    "playalong": [*PLAY, "-o", "a.wav"],
    "chains": ["chains", "--figure", "flam tap", "--beats", "2", "--play", "a.wav"],
    "routes": ["routes", "R L R L", "--beats", "1", "--play", "a.wav"],
}


@pytest.mark.parametrize("name", COMMANDS)
def test_a_folder_of_sounds_is_played_and_what_is_wrong_in_it_is_told(name: str, capsys: Captured) -> None:
    assert main([*COMMANDS[name], "--quiet"]) == 0
    modelled = Path("a.wav").read_bytes()
    assert capsys.readouterr() == ("", "")
    assert main([*COMMANDS[name], "--sounds", "kit", "--quiet"]) == 0
    out, err = capsys.readouterr()
    told = err.splitlines()
    assert out == ""
    assert told.count(BROKEN) == 1
    assert all(line == BROKEN or line.endswith("; the modelled kit plays it.") for line in told)
    assert len(set(told)) == len(told)
    assert Path("a.wav").read_bytes() != modelled


def test_the_same_arguments_give_the_same_bytes(capsys: Captured) -> None:
    made = set()
    for _ in range(2):
        assert main([*COMMANDS["playalong"], "--sounds", "kit", "--quiet"]) == 0
        made.add(Path("a.wav").read_bytes())
    assert len(made) == 1


REFUSED = [
    (["--sounds", "gone.sf2"], 'There is no file or folder "gone.sf2"; check its name and folder.'),
    (
        ["--sounds", "random.sf2"],
        '"random.sf2" is not a SoundFont, although its name says so; use a SoundFont 2 file.',
    ),
    (
        ["--sounds", "lesson.toml"],
        '"lesson.toml" is not a SoundFont; give a .sf2 or .sf3 file, or a folder with a map.',
    ),
    (
        ["--sounds", "kit", "--sound-notes", "k.toml"],
        '"kit" is a folder, whose map names its sounds; leave out',
    ),
    (["--sound-notes", "k.toml"], "--sound-notes belongs to a SoundFont; name one with --sounds."),
]


@pytest.mark.parametrize(("words", "sentence"), REFUSED, ids=range(len(REFUSED)))
@pytest.mark.parametrize("name", [*COMMANDS, "lesson", "demo"])
def test_sounds_that_can_t_be_used(
    name: str, words: list[str], sentence: str, place: Path, capsys: Captured
) -> None:
    before = sorted(place.rglob("*"))
    command = COMMANDS.get(name) or [name, *(["lesson.toml"] if name == "lesson" else []), "-o", "pack"]
    assert main([*command, *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(sentence)
    assert err.count("\n") == 1
    assert sorted(place.rglob("*")) == before


def test_a_soundfont_with_a_table_of_midi_notes(place: Path, capsys: Captured) -> None:
    need_fluidsynth()
    drums = [Drum(keys=(key, key), samples=stroke(60 * key / 10)) for key in (60, 61, 62, 63)]
    (place / "a.sf2").write_bytes(soundfont(drums, bank=0, program=3))
    keys = "\n".join(
        f'"{name}" = {key}' for name, key in (("snare", 60), ("kick", 61), ("hi-hat", 62), ("crash", 63))
    )
    (place / "keys.toml").write_text(f"bank = 0\nprogram = 3\n[midi_notes]\n{keys}\n")
    words = [*PLAY, "-o", "a.wav", "--sounds", "a.sf2"]
    assert main([*words, "--quiet"]) == 2
    assert capsys.readouterr().err.startswith(
        '"a.sf2" has no drums: there is no bank 128, and its first preset'
    )
    assert main([*words, "--sound-notes", "keys.toml", "--quiet"]) == 0
    assert capsys.readouterr().err == ""


def audio(pack: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in pack.rglob("*.wav")}


def test_a_pack_is_played_on_them_and_made_anew_only_where_they_changed(place: Path, capsys: Captured) -> None:
    build = ["lesson", "lesson.toml", "-o", "pack"]
    assert main([*build, "--quiet"]) == 0
    modelled = audio(place / "pack")
    assert main([*build, "--sounds", "kit"]) == 0
    out, err = capsys.readouterr()
    recorded = audio(place / "pack")
    assert recorded.keys() == modelled.keys()
    assert all(recorded[name] != modelled[name] for name in modelled)
    assert "2 files made" in out  # the audio and the practice page
    assert BROKEN in err.splitlines()
    assert main([*build, "--sounds", "kit"]) == 0
    assert "Nothing has changed" in capsys.readouterr().out
    soundfile.write(str(place / "kit" / "snare.wav"), stroke(500), 44_100)
    assert main([*build, "--sounds", "kit"]) == 0
    assert "2 files made" in capsys.readouterr().out
    assert audio(place / "pack") != recorded
    assert main([*build, "--quiet"]) == 0
    assert audio(place / "pack") == modelled


def _small_files() -> None:
    """No file may have more than 40 kB: what a full disk does, for this process alone."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))


@pytest.mark.parametrize("name", ["playalong", "lesson"])
def test_a_full_disk_leaves_what_was_there(name: str, place: Path) -> None:
    words = COMMANDS.get(name) or ["lesson", "lesson.toml", "-o", "pack"]
    target = place / ("pack" if name == "lesson" else "a.wav")
    command = [sys.executable, "-m", "fillwright.cli", *words]
    subprocess.run([*command, "--quiet"], check=True, cwd=place)
    before = {path: path.read_bytes() for path in sorted(place.rglob("*")) if path.is_file()}
    done = subprocess.run(
        [*command, "--sounds", "kit"],
        check=False,
        cwd=place,
        capture_output=True,
        text=True,
        preexec_fn=_small_files,
    )
    assert done.returncode == 2
    shown = target if name == "lesson" else target.name
    reason = "the file is larger than this disk or account allows"
    assert done.stderr.splitlines()[-1] == f'"{shown}" can\'t be written: {reason}.'
    assert {path: path.read_bytes() for path in sorted(place.rglob("*")) if path.is_file()} == before
