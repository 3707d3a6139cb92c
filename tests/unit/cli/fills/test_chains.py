"""`fillwright chains`: what it prints, what it writes, and what it refuses in one sentence."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from fillwright.cli.main import main


def answer(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main(["chains", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_all_rudiments_over_a_bar_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    got = answer(capsys)
    assert isinstance(got["count"], int)
    assert got["count"] > 10**9
    assert len(got["chains"]) == 5
    for chain in got["chains"]:
        assert {"figures", "rhythms", "sticking", "starts", "lands"} <= set(chain)
        assert (chain["starts"], chain["lands"]) in [(s, e) for s in "RL" for e in "RL"]
    assert "remainders" not in got


def test_two_bars_are_many_more(capsys: pytest.CaptureFixture[str]) -> None:
    assert answer(capsys, "--bars", "2", "--top", "1")["count"] > answer(capsys, "--top", "1")["count"] ** 1.5


def test_best_and_random_chains(capsys: pytest.CaptureFixture[str]) -> None:
    assert len(answer(capsys, "--top", "3")["chains"]) == 3
    assert len(answer(capsys, "--random", "4", "--seed", "7")["chains"]) == 4
    both = answer(capsys, "--top", "2", "--random", "3", "--seed", "7")["chains"]
    assert len(both) == 5
    assert both[2:] == answer(capsys, "--random", "3", "--seed", "7")["chains"]
    assert both[2:] != answer(capsys, "--random", "3", "--seed", "8")["chains"]
    assert answer(capsys, "--top", "0")["chains"] == []


def test_figures_are_named_again_or_with_commas(capsys: pytest.CaptureFixture[str]) -> None:
    again = answer(capsys, "--figure", "flam tap", "--figure", "flam accent")
    assert again == answer(capsys, "--figure", "flam tap, flam accent")
    assert {name for chain in again["chains"] for name in chain["figures"]} <= {"flam tap", "flam accent"}


PAIR = ("--figure", "flam tap,flam accent,paradiddle")


@pytest.mark.parametrize(
    ("rules", "keeps"),
    [
        (["--lead", "left"], lambda chain: chain["starts"] == "L"),
        (["--land", "right"], lambda chain: chain["lands"] == "R"),
        (["--most", "1"], lambda chain: len(set(chain["figures"])) == 1),
        (["--must", "flam tap"], lambda chain: "flam tap" in chain["figures"]),
        (
            ["--must", "flam tap,flam accent"],
            lambda chain: {"flam tap", "flam accent"} <= set(chain["figures"]),
        ),
        (["--accents", "1 3"], lambda chain: ">" in chain["sticking"].split()[0]),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_rules_are_kept_and_leave_fewer_chains(
    capsys: pytest.CaptureFixture[str], rules: list[str], keeps: Any
) -> None:
    free = answer(capsys, *PAIR)["count"]
    got = answer(capsys, *PAIR, *rules, "--top", "50", "--random", "20")
    assert 0 < got["count"] < free
    assert all(keeps(chain) for chain in got["chains"])


@pytest.mark.parametrize(
    "more",
    [
        ["--no-alternate"],
        ["--repeat-gap", "16"],
        ["--repeat-gap", "1/16"],
        ["--fill-rest"],
        ["--fill-kick", "8"],
    ],
)
def test_what_is_let_go_leaves_more_chains(capsys: pytest.CaptureFixture[str], more: list[str]) -> None:
    assert answer(capsys, *PAIR, *more)["count"] > answer(capsys, *PAIR)["count"]


def test_without_hands_each_rhythm_counts_once(capsys: pytest.CaptureFixture[str]) -> None:
    assert 2 * answer(capsys, *PAIR, "--no-hands")["count"] == answer(capsys, *PAIR, "--alternate")["count"]


def test_what_a_figure_leaves_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    got = answer(capsys, "--figure", "flam accent")["remainders"]
    assert got[0]["sentence"].startswith("Flam accent in sixteenths leaves one sixteenth of 4 beats")
    assert got[0]["completed_by"][:3] == ["one stroke by the left hand", "a rest", "a kick"]
    assert main(["chains", "--figure", "flam accent"]) == 0
    said = capsys.readouterr().out
    assert "30 chains fill 4 beats of 4/4.\n" in said
    assert "it fills 1½ or 3 beats. These complete it: one stroke by the left hand; a rest; a kick" in said


def test_words(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["chains", "--figure", "flam accent", "--lead", "right", "--beats", "3"]
    assert main([*asked, "--fill-kick", "16", "--top", "30"]) == 0
    said = capsys.readouterr().out
    three = " + ".join(["flam accent in triplets"] * 3)
    assert f"  {three}\n    lR> L R | rL> R L | lR> L R\n" in said
    assert "+ kick 16\n" in said
    assert main(["chains", "--figure", "single paradiddle", "--beats", "1/2", "--lead", "left"]) == 0
    assert capsys.readouterr().out.startswith("1 chain fills ½ beat of 4/4.")
    assert main([*asked, "--quiet"]) == 0
    assert capsys.readouterr().out == ""


def test_the_first_chain_is_seen_and_heard(tmp_path: Path) -> None:
    svg, pdf, wav = tmp_path / "a.svg", tmp_path / "a.pdf", tmp_path / "a.wav"
    asked = [
        "chains",
        *PAIR,
        "--random",
        "1",
        "--beats",
        "2",
        "--groove",
        "shuffle",
        "--tempo",
        "200",
        "--quiet",
    ]
    assert main([*asked, "--svg", str(svg), "--pdf", str(pdf), "--play", str(wav)]) == 0
    assert "<svg" in svg.read_text("utf-8")
    assert pdf.read_bytes().startswith(b"%PDF")
    assert wav.read_bytes().startswith(b"RIFF")


@pytest.mark.parametrize(
    "words",
    [
        ["--figure", "paradoodle"],
        ["--figure", ""],
        ["--beats", "0"],
        ["--beats", "x"],
        ["--beats", "1/7"],
        ["--bars", "9"],
        ["--bars", "0"],
        ["--bars", "1", "--beats", "1"],
        ["--meter", "4/5"],
        ["--most", "0"],
        ["--most", "7"],
        ["--must", "nothing"],
        ["--figure", "flam", "--must", "drag"],
        ["--accents", "7"],
        ["--beats", "1", "--accents", "1"],
        ["--fill-rest", "5"],
        ["--repeat-gap", "soon"],
        ["--repeat-gap", "8", "--no-alternate"],
        ["--no-hands", "--lead", "right"],
        ["--lead", "foot"],
        ["--top", "-1"],
        ["--top", "1001"],
        ["--random", "-1"],
        ["--tempo", "10"],
        ["--figure", "nine stroke roll", "--beats", "1/2", "--svg", "never.svg"],
        ["--top", "0", "--svg", "never.svg"],
        ["--figure", "flam", "--groove", "waltz", "--svg", "never.svg"],
        ["--figure", "flam", "--play", "never.doc"],
        ["--figure", "flam", "--svg", "no/such/folder/never.svg"],
    ],
    ids=" ".join,
)
def test_bad_input_is_one_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["chains", *words]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert "Traceback" not in said.err
    assert list(tmp_path.iterdir()) == []


def test_no_chain_at_all_is_an_answer(capsys: pytest.CaptureFixture[str]) -> None:
    got = answer(capsys, "--figure", "nine stroke roll", "--beats", "1")
    assert (got["count"], got["chains"]) == (0, [])
