"""The command that lays a sticking or a figure on a kit."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import soundfile

from fillwright.cli.main import main
from fillwright.craft.player.kits import find_kit

Captured = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def report(capsys: Captured, *words: str) -> list[dict[str, object]]:
    assert main(["routes", *words, "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    found: list[dict[str, object]] = json.loads(out)["routes"]
    return found


def test_routes_as_json(capsys: Captured) -> None:
    routes = report(capsys, "R L R R L R L L", "--kit", "four-piece", "--tempo", "90", "--top", "5")
    assert len(routes) == 5
    for route in routes:
        assert {"surfaces", "sticking", "ceiling_bpm", "grade", "reason", "step"} <= set(route)
        assert route["sticking"] == "R L R R L R L L"
        assert float(str(route["ceiling_bpm"])) >= 90
        surfaces = route["surfaces"]
        assert isinstance(surfaces, list)
        assert all(find_kit("four-piece").has(name) for name in surfaces)


def test_routes_in_words(capsys: Captured) -> None:
    assert main(["routes", "--figure", "single paradiddle", "--family", "one surface"]) == 0
    out, err = capsys.readouterr()
    lines = out.splitlines()
    assert (lines[0], lines[1]) == ("Single paradiddle in sixteenths, at 80 bpm", "grade  top bpm  route")
    assert lines[2].split()[:2] == ["1", "240"]
    assert "all on the snare; right hand" in lines[2]
    assert err == ""


def test_the_first_route_is_engraved_and_played(capsys: Captured, tmp_path: Path) -> None:
    files = ["--svg", "a.svg", "--pdf", "a.pdf", "--play", "a.wav"]
    assert main(["routes", "R L R L", "--tempo", "160", "--quiet", *files]) == 0
    assert capsys.readouterr() == ("", "")
    assert (tmp_path / "a.svg").read_bytes().startswith(b"<svg ")
    assert (tmp_path / "a.pdf").read_bytes().startswith(b"%PDF-")
    assert soundfile.info("a.wav").duration > 6


def test_where_nothing_can_be_played_it_says_so_and_writes_nothing(capsys: Captured, tmp_path: Path) -> None:
    words = ["R R R R R R R R", "--rhythm", "32", "--tempo", "300", "--svg", "a.svg"]
    assert main(["routes", *words]) == 0
    assert capsys.readouterr().out == "This player (gigging) can't play any such route at 300 bpm.\n"
    assert report(capsys, *words) == []
    assert list(tmp_path.iterdir()) == []


def test_the_taste_is_heard(capsys: Captured) -> None:
    bar = ("--figure", "single paradiddle", "--top", "40")
    home = report(capsys, *bar, "--away", "0", "--regular", "1", "--top", "1")[0]["surfaces"]
    assert home == ["snare"] * 16
    drums = report(capsys, *bar, "--surfaces", "9", "--no-cymbals")
    names = {name for route in drums for name in route["surfaces"]}  # type: ignore[attr-defined]
    assert names <= {"snare", "floor tom", "high tom", "mid tom"}
    assert any("K" in str(route["sticking"]) for route in report(capsys, *bar, "--kick"))
    bare = report(capsys, *bar, "--family", "ends on cymbals", "--bare-cymbals")
    assert all(route["doubled"] == [] for route in bare)


def test_the_lead_is_the_players_own_or_the_one_asked_for(capsys: Captured) -> None:
    words = ("--figure", "single paradiddle", "--family", "one surface")
    for more, first in (((), "R>"), (("--lead", "left"), "L>"), (("--kit", "left-handed"), "L>")):
        assert str(report(capsys, *words, *more)[0]["sticking"]).split()[0] == first


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ([], "Give either a sticking"),
        (["R L", "--figure", "flam"], "Give either a sticking"),
        (["R X"], 'Stroke 2 of "R X"'),
        (["R", "--kit", "five peace"], 'did you mean "five-piece"'),
        (["R", "--player", "pro"], "There is no player"),
        (["R", "--family", "round"], "There is no family"),
        (["R", "--tempo", "5"], "A tempo of 5"),
        (["R", "--tempo", "nan"], "A tempo of nan"),
        (["R", "--tempo", "fast"], "invalid float value"),
        (["R", "--away", "2"], '"away"'),
        (["R", "--regular", "-1"], '"regular"'),
        (["R", "--surfaces", "0"], "use 1 or more"),
        (["R", "--top", "0"], "1 or more"),
        (["R", "--beats", "0"], "A fill of 0 beats"),
        (["R", "--svg", "missing/a.svg"], "no folder"),
        (["R", "--play", "a.doc"], ".wav, .flac, .ogg or .mp3"),
    ],
)
def test_what_is_wrong_is_one_sentence(
    words: list[str], sentence: str, capsys: Captured, tmp_path: Path
) -> None:
    assert main(["routes", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert sentence in err
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
