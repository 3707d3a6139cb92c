"""`fillwright hands`: what it prints, what it writes, and what it refuses in one sentence."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import mido
import pytest

from fillwright.cli.main import main


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """Sixteenths at 120 round the kit, a kick and a crash at the end."""
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    keys = [38] * 4 + [48] * 4 + [45] * 4 + [43] * 4 + [49, 36]
    for number, key in enumerate(keys):
        after = 0 if number in (0, len(keys) - 1) else 120
        track.append(mido.Message("note_on", channel=9, note=key, velocity=90, time=after))
    path = tmp_path / "take.mid"
    file.save(path)
    return path


def answer(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main(["hands", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_json_has_everything(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    got = answer(capsys, str(take), "--player", "professional")
    assert got["playable"] is True
    assert 0 < got["peak_demand"] <= 1
    assert got["ceiling_bpm"] > 120
    assert len(got["strokes"]) == 18
    assert {"time", "surface", "hand", "demand"} <= set(got["strokes"][0])
    assert got["strokes"][4]["time"] == pytest.approx(0.5)
    assert {each["hand"] for each in got["strokes"]} == {"R", "L", "right foot"}
    assert got["unplayable"] == []


@pytest.mark.parametrize("tempo", ["360", "413.99999999999994", "3.6e2"])
def test_three_times_as_fast_is_too_fast_for_a_first_year(
    tempo: str, take: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    got = answer(capsys, str(take), "--player", "first-year", "--tempo", tempo)
    assert got["playable"] is False
    assert got["peak_demand"] > 1
    assert got["ceiling_bpm"] < 120
    assert got["unplayable"]
    assert got["strokes"][4]["time"] == pytest.approx(60 / float(tempo), abs=1e-5)


def test_words(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["hands", str(take)]) == 0
    out = capsys.readouterr().out
    assert "Gigging player, five-piece kit, at 120 bpm: playable" in out
    assert re.search(r"^bar 1 +1 \| 1 [RL] snare, e [RL] snare, & [RL] snare, a [RL] snare$", out, re.MULTILINE)
    assert re.search(r"^bar 2 +1 \| .*RF kick", out, re.MULTILINE)
    assert main(["hands", str(take), "--quiet"]) == 0
    assert capsys.readouterr().out == ""


def test_to_see_and_to_hear(take: Path, tmp_path: Path) -> None:
    plan, page, sound = (tmp_path / name for name in ("a.svg", "a.pdf", "a.wav"))
    assert (
        main(["hands", str(take), "--quiet", "--svg", str(plan), "--pdf", str(page), "--play", str(sound)]) == 0
    )
    assert plan.read_text().startswith("<svg")
    assert page.read_bytes().startswith(b"%PDF")
    assert sound.read_bytes().startswith(b"RIFF")


def test_an_own_table_of_midi_notes(take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = tmp_path / "notes.toml"
    table.write_text('[midi_notes]\n49 = "china"\n')
    for option in ("--midi-notes", "--pads"):  # the old name still works
        assert answer(capsys, str(take), option, str(table))["strokes"][-2]["surface"] in ("china", "kick")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--tempo", "fast"], "is not a tempo"),
        (["--tempo", "nan"], "is not a tempo"),
        (["--tempo", "-3"], "is not a valid tempo"),
        (["--player", "nobody"], "no player"),
        (["--kit", "nothing"], "no kit"),
        (["--pads", "none.toml"], "There is no such file"),
    ],
)
def test_what_it_refuses(words: list[str], says: str, take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["hands", str(take), *words]) == 2
    said = capsys.readouterr().err
    assert says in said
    assert len(said.splitlines()) == 1
