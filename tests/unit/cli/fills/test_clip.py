"""The command that films one fill."""

from __future__ import annotations

import json
from pathlib import Path

import av
import pytest

from fillwright.cli.main import main

Captured = pytest.CaptureFixture[str]
FILM = ["clip", "--figure", "single paradiddle", "--bars", "1", "--tempo", "400", "--count-in", "0"]


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_a_clip_is_written_and_told(tmp_path: Path, capsys: Captured) -> None:
    assert main([*FILM, "--title", "", "--json", "-o", "a.mp4"]) == 0
    out, err = capsys.readouterr()
    told = json.loads(out)
    assert err == ""
    assert set(told) == {"file", "title", "seconds", "start_seconds", "frames", "frames_per_second"}
    assert told["start_seconds"] == 0.5
    with av.open("a.mp4") as file:
        assert file.streams.video[0].frames == told["frames"]
    assert [path.name for path in tmp_path.iterdir()] == ["a.mp4"]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["-o", "a.mov"], '".mov" is not an ending for a clip; use .mp4.'),
        (["--background", "gren", "-o", "a.mp4"], 'no background called "gren"; did you mean "green"?'),
        (["--figure", "flamm", "-o", "a.mp4"], 'no figure called "flamm"; did you mean "flam"?'),
        (["--count-in", "5", "-o", "a.mp4"], "A count-in has 0 to 2 bars, not 5."),
    ],
)
def test_bad_input_is_told_in_one_line(
    words: list[str], sentence: str, tmp_path: Path, capsys: Captured
) -> None:
    assert main([*FILM, *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert sentence in err
    assert err.count("\n") == 1
    assert not list(tmp_path.iterdir())
