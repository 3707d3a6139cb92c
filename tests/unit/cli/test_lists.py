"""The commands that list: rudiments and grooves."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fillwright.cli.main import main
from fillwright.music.grooves import load_grooves
from fillwright.music.rudiments import load_rudiments

Captured = pytest.CaptureFixture[str]

KEYS = {"name", "group", "family", "aliases", "sticking", "sticking_left", "strokes", "alternates"}


def told(words: list[str], capsys: Captured) -> str:
    assert main(words) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


def test_forty_rudiments_in_the_order_of_the_sheet(capsys: Captured) -> None:
    lines = told(["rudiments"], capsys).splitlines()
    assert [line.split()[0] for line in lines] == [str(n) for n in range(1, 41)]
    assert lines[15].split() == "16 single paradiddle diddles R> L R R | L> R L L".split()
    assert lines[0].endswith("R L")


def test_one_rudiment_in_full(capsys: Captured) -> None:
    assert told(["rudiments", "Flamadiddle"], capsys) == (
        "flam paradiddle (also flamadiddle)\n"
        "number 24, flams, flam family; strokes: 4\n"
        "rhythms: sixteenths; eighths; triplets\n"
        "\n"
        "lR> L R R | rL> R L L |\n"
        "1   e & a | 2   e & a |\n"
    )


def test_rudiments_as_json(capsys: Captured) -> None:
    rows = json.loads(told(["rudiments", "--json"], capsys))
    assert [row["name"] for row in rows] == [figure.name for figure in load_rudiments()]
    assert all(set(row) >= KEYS for row in rows)
    row = json.loads(told(["rudiments", "flam tap", "--json"], capsys))
    assert {key: row[key] for key in KEYS} == {
        "name": "flam tap",
        "group": "flams",
        "family": "flam",
        "aliases": [],
        "sticking": "lR> R",
        "sticking_left": "rL> L",
        "strokes": 2,
        "alternates": True,
    }


@pytest.mark.parametrize("words", [["rudiments"], ["rudiments", "flam"], ["grooves"]])
def test_quiet_says_nothing(words: list[str], capsys: Captured) -> None:
    assert told([*words, "--quiet"], capsys) == ""


def test_pictures_of_a_rudiment(tmp_path: Path, capsys: Captured) -> None:
    svg, png = tmp_path / "flam.svg", tmp_path / "flam.png"
    told(["rudiments", "flam", "--svg", str(svg), "--png", str(png), "--quiet"], capsys)
    assert svg.read_text("utf-8").startswith("<svg ")
    assert png.read_bytes().startswith(b"\x89PNG")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["flam.png", "flam.svg"]


def test_grooves(capsys: Captured) -> None:
    lines = told(["grooves"], capsys).splitlines()
    assert len(lines) == len(load_grooves())
    assert lines[0].split(maxsplit=4)[:4] == ["straight", "eighths", "4/4", "60–140"]
    assert set(lines[0].split("60–140")[1].replace(",", " ").split()) == {"hi-hat", "snare", "kick"}


def test_grooves_as_json(capsys: Captured) -> None:
    rows = json.loads(told(["grooves", "--json"], capsys))
    assert [row["name"] for row in rows] == [groove.name for groove in load_grooves()]
    assert all(set(row) == {"name", "meter", "tempo", "surfaces"} for row in rows)
    waltz = next(row for row in rows if row["name"] == "waltz")
    assert waltz["meter"] == "3/4"
    assert waltz["tempo"] == [80, 180]
    assert set(waltz["surfaces"]) == {"ride bow", "snare", "kick"}


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["rudiments", "flamm"], 'There is no figure called "flamm"; did you mean "flam"?'),
        (
            ["rudiments", "--svg", "a.svg"],
            "A picture shows one rudiment; name it, for example fillwright rudiments flam.",
        ),
        (
            ["rudiments", "flam", "tap"],
            "fillwright rudiments: unrecognized arguments: tap; see fillwright rudiments --help.",
        ),
        (
            ["rudiments", "flam", "--svg", "none/a.svg"],
            '"none/a.svg" can\'t be written: there is no folder "none".',
        ),
        (
            ["grooves", "--loud"],
            "fillwright grooves: unrecognized arguments: --loud; see fillwright grooves --help.",
        ),
        (
            ["grooves", "--js"],
            "fillwright grooves: unrecognized arguments: --js; see fillwright grooves --help.",
        ),
    ],
)
def test_bad_input_is_told_in_one_line(
    words: list[str], sentence: str, capsys: Captured, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    assert capsys.readouterr() == ("", sentence + "\n")
    assert list(tmp_path.iterdir()) == []
