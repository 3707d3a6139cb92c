"""The page about other people's sounds says what the code does."""

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fillwright.errors import SoundsError
from fillwright.music.stroke import Level
from fillwright.music.surfaces import surfaces
from fillwright.sound.samples import folder
from fillwright.sound.samples import folder_map as foldermap
from fillwright.sound.samples import midi_notes as soundkeys
from fillwright.sound.samples import open as sounds
from fillwright.sound.samples.open import open_sounds

PAGE = (Path(__file__).parents[1] / "docs" / "sounds.md").read_text("utf-8")
FONT_PART, FOLDER_PART = PAGE.split("## A SoundFont\n")[1].split("## A folder")
TOP_PART, SOUND_PART = FOLDER_PART.split("and below each `[[sound]]`")
(KEYS_EXAMPLE,) = re.findall(r"^```toml keys\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)
(MAP_EXAMPLE,) = re.findall(r"^```toml map\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)


def rows(part, pattern=r"`(\w+)`"):
    return re.findall(rf"^\| {pattern} \|", part, re.MULTILINE)


def test_the_documented_keys_are_those_that_are_read():
    assert tuple(rows(FONT_PART)) == soundkeys.KEYS
    assert tuple(rows(TOP_PART)) == foldermap.MAP_KEYS
    assert tuple(rows(SOUND_PART)) == foldermap.SOUND_KEYS


def test_the_documented_surfaces_are_general_midis():
    table = dict(re.findall(r"^\| ([a-z -]+) \| (\d+) \|$", FONT_PART, re.MULTILINE))
    assert {name: int(key) for name, key in table.items()} == {
        name: one.key for name, one in surfaces().items()
    }


def test_the_table_of_keys_is_read(tmp_path):
    path = tmp_path / "keys.toml"
    path.write_text(KEYS_EXAMPLE, "utf-8")
    read = soundkeys.read_sound_keys(path)
    assert (read.bank, read.program, read.keys["floor tom"], read.keys["snare"]) == (0, 0, 41, 38)
    assert "china" not in read.keys
    assert set(tomllib.loads(KEYS_EXAMPLE)) == set(soundkeys.KEYS)


def write_map(place):
    (place / foldermap.MAP).write_text(MAP_EXAMPLE, "utf-8")
    for row in tomllib.loads(MAP_EXAMPLE)["sound"]:
        for name in row["files"]:
            (place / name).parent.mkdir(exist_ok=True)
            soundfile.write(str(place / name), 0.5 * np.exp(-np.arange(4000) / 400), 44_100)


def test_the_map_is_read_and_has_every_key(tmp_path):
    write_map(tmp_path)
    warned = []
    bank = open_sounds(tmp_path, warn=warned.append)
    for name in ("snare", "kick", "crash", "china"):
        bank.shot(name, 80, 0)
    assert warned == []
    table = tomllib.loads(MAP_EXAMPLE)
    assert set(table) == set(foldermap.MAP_KEYS)
    assert {key for row in table["sound"] for key in row} == set(foldermap.SOUND_KEYS)


def test_limits():
    flat = " ".join(PAGE.split())
    assert f"at most {folder.LARGEST_BYTES // 1_000_000} MB, of which the first {folder.MOST_SECONDS:g}" in flat
    assert f"The largest file read has {sounds.LARGEST_SOUNDFONT_BYTES // 1_000_000:,} MB" in flat
    assert f"1 to {foldermap.MOST_SOUNDS} times" in flat
    assert f"1 to {foldermap.MOST_FILES} `.wav` or `.flac` files" in flat
    assert " or ".join(f"`{suffix}`" for suffix in foldermap.SUFFIXES) in flat
    assert f"a whole number from 0 to {soundkeys.MOST_BANK}" in flat
    low, high = folder.RATES[0], folder.RATES[-1]
    assert f"{low:,} to {high:,} samples a second" in flat
    assert f"a number from {foldermap.GAIN_DB[0]:g} to {foldermap.GAIN_DB[1]:g}, for all sounds" in flat
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
        (recordings / foldermap.MAP).write_text('[[sound]]\nsurface = "snar"\nfiles = ["a.wav"]\n')
    if number == 5:
        (recordings / foldermap.MAP).write_text('[[sound]]\nsurface = "snare"\nfiles = ["../snare.wav"]\n')
    return Path(font.name if number < 3 else recordings.name)


@pytest.mark.parametrize("number", range(len(quoted())))
def test_every_mistake_is_told_as_it_is_quoted(number, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = mistake(tmp_path, number)
    with pytest.raises(SoundsError, match=r"[.?]$") as caught:
        open_sounds(path, warn=print)
    assert str(caught.value) == quoted()[number]
