"""The page about recorded sounds says what the code does."""

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fillwright import budget
from fillwright.errors import SoundsError, TableError
from fillwright.music.stroke import Level
from fillwright.music.surfaces import load_surfaces
from fillwright.sound.samples import folder
from fillwright.sound.samples.folder_map import MAP
from fillwright.tables import sounds
from fillwright.tables.sounds import (
    MAP_KEYS,
    SOUNDFONT_KEYS,
    list_sound_keys,
    open_sounds,
    read_soundfont_notes,
)

PAGE = (Path(__file__).parents[1] / "docs" / "sounds.md").read_text("utf-8")
FONT_PART, FOLDER_PART = PAGE.split("## A SoundFont\n")[1].split("## A folder")
TOP_PART, SOUND_PART = FOLDER_PART.split("Keys below each `[[sound]]`")
(NOTES_EXAMPLE,) = re.findall(r"^```toml notes\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)
(MAP_EXAMPLE,) = re.findall(r"^```toml map\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)


SOUND_KEYS = [key.name for key in list_sound_keys(Path())]


def rows(part, pattern=r"`(\w+)`"):
    return re.findall(rf"^\| {pattern} \|", part, re.MULTILINE)


def test_the_documented_keys_are_those_that_are_read():
    assert rows(FONT_PART) == [key.name for key in SOUNDFONT_KEYS]
    assert rows(TOP_PART) == [*(key.name for key in MAP_KEYS), "sound"]
    assert rows(SOUND_PART) == SOUND_KEYS


def test_the_documented_surfaces_are_general_midis():
    table = dict(re.findall(r"^\| ([a-z -]+) \| (\d+) \|$", FONT_PART, re.MULTILINE))
    assert {name: int(key) for name, key in table.items()} == {
        name: one.key for name, one in load_surfaces().items()
    }


def test_the_table_of_midi_notes_is_read(tmp_path):
    path = tmp_path / "notes.toml"
    path.write_text(NOTES_EXAMPLE, "utf-8")
    read = read_soundfont_notes(path, warn=pytest.fail)
    assert (read.bank, read.program, read.notes["floor tom"], read.notes["snare"]) == (0, 0, 41, 38)
    assert "china" not in read.notes
    assert set(tomllib.loads(NOTES_EXAMPLE)) == {key.name for key in SOUNDFONT_KEYS}


def write_map(place):
    (place / MAP).write_text(MAP_EXAMPLE, "utf-8")
    for row in tomllib.loads(MAP_EXAMPLE)["sound"]:
        for name in row["files"]:
            (place / name).parent.mkdir(exist_ok=True)
            soundfile.write(str(place / name), 0.5 * np.exp(-np.arange(4000) / 400), 44_100)


def test_the_map_is_read_and_has_every_key(tmp_path):
    write_map(tmp_path)
    warned = []
    bank = open_sounds(tmp_path, warn=warned.append)
    for name in ("snare", "kick", "crash", "china"):
        bank.get_shot(name, 80, 0)
    assert warned == []
    table = tomllib.loads(MAP_EXAMPLE)
    assert set(table) == ({*(key.name for key in MAP_KEYS), "sound"})
    assert {key for row in table["sound"] for key in row} == set(SOUND_KEYS)


def test_limits():
    flat = " ".join(PAGE.split())
    assert f"at most {budget.SOUND_BYTES // 1_000_000} MB, of which the first {folder.MOST_SECONDS:g}" in flat
    assert f"The largest file read has {budget.SOUNDFONT_BYTES // 1_000_000:,} MB" in flat
    assert f"1 to {sounds.MOST_SOUNDS} times" in flat
    assert f"1 to {sounds.MOST_FILES} `.wav` or `.flac` files" in flat
    assert " or ".join(f"`{suffix}`" for suffix in sounds.FILE_SUFFIXES) in flat
    assert f"a whole number from 0 to {sounds.MOST_BANK}" in flat
    low, high = folder.RATES[0], folder.RATES[-1]
    assert f"{low:,} to {high:,} samples a second" in flat
    assert f"a number from {sounds.LEAST_GAIN_DB:g} to {sounds.MOST_GAIN_DB:g}, for all sounds" in flat
    ghost, tap, accent = (level.velocity for level in (Level.GHOST, Level.TAP, Level.ACCENT))
    assert f"A ghost note has a velocity of {ghost}, a tap {tap}, an accent {accent}." in flat


def quoted():
    (block,) = re.findall(r"^```text\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)
    return block.splitlines()


def mistake(place, number):
    """What makes the mistake that stands in that line of the page."""
    font, recordings = place / "my-kit.sf2", place / "recordings"
    recordings.mkdir()
    if number == 1:
        font.write_bytes(b"no SoundFont" * 100)
    if number == 2:
        font.write_bytes((b"RIFF" + (9_000).to_bytes(4, "little") + b"sfbk").ljust(4_000, b"\0"))
    if number == 4:
        (recordings / MAP).write_text('[[sound]]\nsurface = "snar"\nfiles = ["a.wav"]\n')
    if number == 5:
        (recordings / MAP).write_text('[[sound]]\nsurface = "snare"\nfiles = ["../snare.wav"]\n')
    return Path(font.name if number < 3 else recordings.name)


@pytest.mark.parametrize("number", range(len(quoted())))
def test_every_mistake_is_reported_as_it_is_quoted(number, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = mistake(tmp_path, number)
    with pytest.raises((SoundsError, TableError), match=r"[.?]$") as caught:
        open_sounds(path, warn=print)
    assert str(caught.value) == quoted()[number]
