"""The commands that make one fill: sheet and playalong."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import soundfile

from fillwright.cli.main import main

Captured = pytest.CaptureFixture[str]
SHEET = ["sheet", "--figure", "flam tap"]
PLAY = ["playalong", "--figure", "flam tap", "--bars", "1", "--tempo", "200", "--count-in", "0"]


def play(*words: str) -> list[str]:
    """A play-along with these options; a ladder goes with no tempo."""
    return [*(PLAY if "--ladder" not in words else [*PLAY[:5], *PLAY[7:]]), *words]


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize(
    ("suffix", "start"),
    [
        (".svg", b"<svg "),
        (".pdf", b"%PDF-"),
        (".png", b"\x89PNG"),
        (".musicxml", b"<?xml"),
        (".mid", b"MThd"),
        (".SVG", b"<svg "),
    ],
)
def test_a_sheet_in_every_format(suffix: str, start: bytes, tmp_path: Path, capsys: Captured) -> None:
    name = f"fill{suffix}"
    assert main([*SHEET, "--beats", "2", "-o", name]) == 0
    assert (tmp_path / name).read_bytes().startswith(start)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert capsys.readouterr() == (f"{name}: Flam tap: Last two beats, all on the snare, in sixteenths\n", "")


@pytest.mark.parametrize("suffix", [".wav", ".flac", ".ogg", ".mp3"])
def test_a_play_along_in_every_format(suffix: str, tmp_path: Path, capsys: Captured) -> None:
    name = f"fill{suffix}"
    assert main([*PLAY, "--beats", "1", "-o", name]) == 0
    audio = soundfile.info(str(tmp_path / name))
    assert audio.samplerate == 44100
    assert [path.name for path in tmp_path.iterdir()] == [name]
    out, err = capsys.readouterr()
    assert out == f"{name}: Flam tap: Last beat, all on the snare, at 200 bpm, {audio.duration:.1f} s\n"
    assert err == ""


def test_reports_as_json(capsys: Captured) -> None:
    assert main([*SHEET, "--step", "round the kit", "--json", "-o", "a.svg"]) == 0
    sheet = json.loads(capsys.readouterr().out)
    assert sheet == {
        "file": "a.svg",
        "title": "Flam tap: Whole bar, round the kit beat by beat: snare, high tom, mid tom, floor tom",
        "rhythm": "sixteenths",
    }
    assert main([*PLAY, "--json", "-o", "a.wav"]) == 0
    played = json.loads(capsys.readouterr().out)
    assert set(played) == {
        "file",
        "title",
        "seconds",
        "start_seconds",
        "loops",
        "onsets",
        "clicks",
        "sections",
    }
    assert played["seconds"] == pytest.approx(soundfile.info("a.wav").duration, abs=0.001)


@pytest.mark.parametrize("words", [[*SHEET, "-o", "a.svg"], [*PLAY, "-o", "a.wav"]])
def test_quiet_says_nothing(words: list[str], tmp_path: Path, capsys: Captured) -> None:
    assert main([*words, "--quiet"]) == 0
    assert capsys.readouterr() == ("", "")
    assert len(list(tmp_path.iterdir())) == 1


def made(name: str, *words: str) -> bytes:
    assert main([*SHEET, *words, "--quiet", "-o", name]) == 0
    return Path(name).read_bytes()


def test_every_option_of_a_fill_changes_it() -> None:
    plain = made("a.musicxml", "--beats", "2")
    others = [
        made("b.musicxml", "--beats", "2", *words)
        for words in (
            ["--groove", "shuffle"],
            ["--rhythm", "8"],
            ["--bars", "2"],
            ["--lead", "left"],
            ["--tempo", "81"],
        )
    ]
    others += [made("b.musicxml", "--beats", "4"), made("b.musicxml", "--step", "hands apart")]
    assert len({plain, *others}) == len(others) + 1


def test_a_left_handed_player_reads_the_other_hands() -> None:
    assert made("a.svg", "--hand", "left") != made("b.svg")
    assert b">L</text>" in made("a.svg", "--hand", "left", "--figure", "single stroke roll", "--beats", "1/2")


def test_the_whole_bar_is_what_nobody_asked_otherwise() -> None:
    assert made("a.svg") == made("b.svg", "--step", "whole bar") == made("b.svg", "--beats", "4")


def seconds(*words: str) -> float:
    assert main([*play(*words), "--quiet", "-o", "a.wav"]) == 0
    return soundfile.info("a.wav").duration


def test_repeats_and_count_in_make_a_play_along_longer() -> None:
    bar = 4 * 60 / 200
    plain = seconds()
    assert seconds("--repeats", "3") == pytest.approx(plain + 2 * bar, abs=0.02)
    assert seconds("--count-in", "2") == pytest.approx(plain + 2 * bar, abs=0.1)


def test_every_wish_changes_what_is_heard() -> None:
    def heard(*words: str) -> bytes:
        assert main([*play("--beats", "1", *words), "--quiet", "-o", "a.wav"]) == 0
        return Path("a.wav").read_bytes()

    ways = [
        [],
        ["--swing", "2/3"],
        ["--swing", "0.6"],
        ["--click", "off"],
        ["--click", "eighths"],
        ["--click", "eighths", "--click-grid"],
        ["--click", "backbeats"],
        ["--click", "fading", "--repeats", "2"],
        ["--repeats", "2"],
        ["--heard", "groove"],
        ["--heard", "fill"],
        ["--looseness", "slight"],
        ["--looseness", "slight", "--seed", "1"],
        ["--flam-ms", "50"],
        ["--ladder", "100, 200"],
        ["--ladder", "100, 200", "--climb", "1"],
        ["--loop"],
    ]
    assert len({heard(*words) for words in ways}) == len(ways)
    assert heard("--swing", "0.667") == heard("--swing", "2/3")


def test_a_ladder_reports_its_sections(capsys: Captured) -> None:
    words = ["--ladder", "100..200 step 50", "--count-in", "1", "--beats", "1", "--json", "-o", "a.wav"]
    assert main(play(*words)) == 0
    made = json.loads(capsys.readouterr().out)
    assert [section["tempo"] for section in made["sections"]] == [100, 150, 200]
    assert made["start_seconds"] == made["sections"][0]["start_seconds"] == pytest.approx(2.4)
    assert made["onsets"] == sum(section["onsets"] for section in made["sections"])
    for section in made["sections"]:
        assert section["start_seconds"] - section["opens_seconds"] == pytest.approx(240 / section["tempo"])
    assert made["seconds"] == pytest.approx(soundfile.info("a.wav").duration, abs=0.001)


def test_a_loop_is_as_long_as_its_bars(capsys: Captured) -> None:
    assert main([*PLAY[:-2], "--loop", "--json", "-o", "a.flac"]) == 0
    made = json.loads(capsys.readouterr().out)
    assert (made["loops"], made["start_seconds"]) == (True, 0.0)
    assert soundfile.info("a.flac").frames == round(4 * 60 / 200 * 44100)


def test_a_loop_is_no_mp3(capsys: Captured, tmp_path: Path) -> None:
    words = [*PLAY[:-2], "--loop", "-o", "a.mp3"]
    assert "An MP3 can't be a seamless loop" in refused(words, capsys, tmp_path)


def test_players_show_what_is_played() -> None:
    words = [
        "--beats",
        "1",
        "--artist",
        "Teodora",
        "--album",
        "Fills",
        "--track",
        "3",
        "--quiet",
        "-o",
        "a.ogg",
    ]
    assert main(play(*words)) == 0
    with soundfile.SoundFile("a.ogg") as file:
        assert file.title == "Flam tap: Last beat, all on the snare, 200"
        assert (file.artist, file.album, file.tracknumber) == ("Teodora", "Fills", "3")
        assert file.comment == "200 bpm, 4/4, sixteenths"


EITHER = [
    (["--figure", "flamm"], 'There is no figure called "flamm"; did you mean "flam"?'),
    (["--groove", "shufle"], 'There is no groove called "shufle"; did you mean "shuffle"?'),
    (["--step", "round the cat"], 'There is no step called "round the cat"; did you mean "round the kit"?'),
    (["--step", "own span"], 'There is no step called "own span"; use one of: last beat,'),
    (["--rhythm", "x"], '"x" (value 1 of "x") is not a note value; write'),
    (["--rhythm", "16 16 16"], 'The rhythm "16 16 16" has 3 note values for 2 strokes;'),
    (["--beats", "abc"], 'argument --beats: "abc" is not a number such as 2, 2.5 or 2/3; see'),
    (["--beats", "nan"], 'argument --beats: "nan" is not a number such as 2, 2.5 or 2/3; see'),
    (["--beats", "1e999999999"], 'argument --beats: "1e999999999" is not a number such as'),
    (["--beats", "a\nb"], 'argument --beats: "a b" is not a number such as'),
    (["--beats", "0"], "A fill of 0 beats does not fit in"),
    (["--beats", "-1"], "A fill of -1 beats does not fit in"),
    (["--beats", "99"], "A fill of 99 beats does not fit in"),
    (["--beats", "1/7"], "flam tap in sixteenths does not fill the last 1/7 beat of 4/4"),
    (["--beats", "2", "--step", "mixed"], "argument --step: not allowed with argument --beats; see"),
    (["--bars", "0"], "A phrase of 0 bars can't be written; use 1 to 64."),
    (["--bars", "65"], "A phrase of 65 bars can't be written; use 1 to 64."),
    (["--bars", "two"], "argument --bars: invalid int value: 'two'; see"),
    (["--tempo", "0"], "A tempo of 0 bpm can't be played; use 20 to 400 bpm."),
    (["--tempo", "1000"], "A tempo of 1000 bpm can't be played; use 20 to 400 bpm."),
    (["--tempo", "fast"], "argument --tempo: invalid int value: 'fast'; see"),
    (["--lead", "both"], "argument --lead: invalid choice: 'both' (choose from 'right', 'left'); see"),
    (["--loud"], "unrecognized arguments: --loud; see"),
    (
        ["--groove", "seven-eight", "--rhythm", "8t"],
        "flam tap has triplets only, and they don't fit 7/8;",
    ),
    (
        ["--figure", "triple stroke roll", "--step", "flams split"],
        "triple stroke roll, flams split: there is no such fill for this figure on this kit",
    ),
]
FILES = [
    ("none/a{}", 'can\'t be written: there is no folder "none".'),
    ("folder{}", "folder"),
    ("a.doc", "use .svg, .pdf"),
    ("a", "use .svg, .pdf"),
    ("a" * 300 + "{}", "file name too long."),
]
PLAYED = [
    (["--swing", "0.9"], "A swing of 9/10 can't be played; use 1/2 to 3/4."),
    (["--swing", "x"], 'argument --swing: "x" is not a number such as 2, 2.5 or 2/3; see'),
    (["--swing", "1e999999999"], 'argument --swing: "1e999999999" is not a number such as'),
    (["--swing", "1/0"], 'argument --swing: "1/0" is not a number such as'),
    (["--flam-ms", "nan"], "A flam of nan ms can't be played; use 5 to 80 ms."),
    (["--flam-ms", "500"], "A flam of 500 ms can't be played; use 5 to 80 ms."),
    (["--count-in", "5"], "A count-in has 0 to 2 bars, not 5."),
    (["--count-in", "-1"], "A count-in has 0 to 2 bars, not -1."),
    (["--repeats", "0"], "A phrase can be played 1 to 64 times, not 0."),
    (["--click", "loud"], "argument --click: invalid choice: 'loud' (choose from 'beats',"),
    (["--click", "fading"], "A fading click needs repeats; have the phrase played 2 to 64 times."),
    (["--heard", "drums"], "argument --heard: invalid choice: 'drums' (choose from 'all',"),
    (["--seed", "-1"], "-1 is not a valid seed; use a whole number from 0."),
    (["--ladder", "fast"], '"fast" is not a tempo ladder; write for example 60..100 step 5'),
    (["--climb", "2"], "A climb needs several tempos; give a ladder, such as 60..100 step 10."),
    (["--climb", "2", "--ladder", "60, 70", "--repeats", "2"], "A climb sets the number of repeats"),
    (["--climb", "65", "--ladder", "60, 70"], "A phrase can be played 1 to 64 times, not 65."),
    (
        ["--ladder", "60..80 step 10", "--tempo", "80"],
        "--tempo and --ladder can't be used together; leave one out.",
    ),
    (["--loop", "--ladder", "60, 70"], "A loop has one tempo; leave out the ladder, or the loop."),
    (["--loop", "--count-in", "1"], "A loop has no count-in, because it would repeat each time;"),
    (["--track", "-2"], "-2 is not a track number; use 1 or more."),
]


def refused(words: list[str], capsys: Captured, tmp_path: Path) -> str:
    """The one line on the error stream, nothing having been written."""
    before = sorted(tmp_path.rglob("*"))
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert err.endswith((".\n", "?\n"))
    assert sorted(tmp_path.rglob("*")) == before
    return err


@pytest.mark.parametrize(
    ("words", "sentence"), EITHER, ids=lambda value: " ".join(value) if isinstance(value, list) else ""
)
@pytest.mark.parametrize(("command", "file"), [("sheet", "a.svg"), ("playalong", "a.wav")])
def test_bad_input_is_told_in_one_line(
    command: str, file: str, words: list[str], sentence: str, capsys: Captured, tmp_path: Path
) -> None:
    assert sentence in refused([command, "--figure", "flam tap", *words, "-o", file], capsys, tmp_path)


@pytest.mark.parametrize(("words", "sentence"), PLAYED)
def test_bad_input_for_a_play_along(words: list[str], sentence: str, capsys: Captured, tmp_path: Path) -> None:
    assert sentence in refused([*play(*words), "-o", "a.wav"], capsys, tmp_path)


@pytest.mark.parametrize(("name", "sentence"), FILES)
def test_a_file_that_can_t_be(name: str, sentence: str, capsys: Captured, tmp_path: Path) -> None:
    (tmp_path / "folder.svg").mkdir()
    (tmp_path / "folder.wav").mkdir()
    assert sentence in refused([*SHEET, "-o", name.format(".svg")], capsys, tmp_path)
    told = refused([*PLAY, "-o", name.format(".wav")], capsys, tmp_path)
    assert sentence.replace("use .svg, .pdf", ".wav, .flac") in told


@pytest.mark.parametrize("command", ["sheet", "playalong"])
@pytest.mark.parametrize("missing", ["--figure", "-o"])
def test_what_must_be_given(command: str, missing: str, capsys: Captured, tmp_path: Path) -> None:
    given = {"--figure": "flam", "-o": "a.svg"}
    del given[missing]
    words = [word for pair in given.items() for word in pair]
    assert f"the following arguments are required: {missing}" in refused([command, *words], capsys, tmp_path)


def test_a_file_that_was_there_stays_where_the_new_one_can_t_be_made(tmp_path: Path, capsys: Captured) -> None:
    (tmp_path / "a.svg").write_text("mine")
    refused([*SHEET, "--beats", "99", "-o", "a.svg"], capsys, tmp_path)
    assert (tmp_path / "a.svg").read_text() == "mine"
