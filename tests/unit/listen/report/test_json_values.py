"""The report as plain values, and docs/listening.md that describes every key of it."""

import json
import re
from pathlib import Path

import pytest

from fillwright.listen.alignment.model import Match
from fillwright.listen.onset_list import Heard
from fillwright.listen.report.build import build_report
from fillwright.listen.report.confidence import rate_confidence
from fillwright.listen.report.json_values import plain
from fillwright.listen.report.number_table import list_numbers
from fillwright.listen.report.sentences import write_sentences

PAGE = Path(__file__).parents[4] / "docs" / "listening.md"
ROUND = {"take", "against", "fill", "remarks"}
"""Keys that stand round the report: file, title, number and remarks."""


@pytest.fixture
def table(expected, perform):
    """The plain values of a take."""

    def of(**how):
        heard, match = perform(**how)
        said = build_report(expected, heard, match)
        return plain(said, write_sentences(said), rate_confidence(said, heard))

    return of


def documented():
    """Keys on the page: those of the report, and by key those of its rows."""
    section = PAGE.read_text("utf-8").split("## report.json and --json")[1].split("\n## ")[0]
    keys, inner = set(), {}
    for names, text in re.findall(r"^\| (`[^|]+) \| (.+) \|$", section, re.MULTILINE):
        for name in re.findall(r"`(\w+)`", names):
            keys.add(name)
            inner[name] = set(re.findall(r"`(\w+)`", text))
    return keys, inner


def test_the_page_names_every_key_and_no_other(table):
    keys, _ = documented()
    assert keys - ROUND == set(table())
    assert keys >= ROUND


@pytest.mark.parametrize("name", ["strokes", "bars", "passes", "flams", "rolls", "missing", "extra"])
def test_the_page_names_the_keys_of_every_row(table, name):
    rows = table(missing={5}, extra_seconds=(3.0,))[name]
    assert rows
    assert set(rows[0]) == documented()[1][name]


def test_a_wrong_drum_has_the_keys_of_a_missing_stroke_and_two_more(table):
    row = table(surface=lambda stroke: "rim" if stroke.in_fill else stroke.surface)["wrong_surface"][0]
    inner = documented()[1]
    assert set(row) == inner["missing"] | (inner["wrong_surface"] - {"missing"})


def test_hands_have_the_keys_of_the_page(table):
    hands = table()["hands"]
    found = {*hands, *hands["right"], *hands["right_less_left"]}
    assert found == documented()[1]["hands"]


def test_lag_is_played_less_written(table):
    rows = table(lag_ms=lambda stroke: 12.34 if stroke.in_fill else -3.0)["strokes"]
    for row in rows:
        assert 1000 * (row["played_s"] - row["written_s"]) == pytest.approx(row["lag_ms"], abs=0.16)
    assert {row["lag_ms"] for row in rows} == {12.3, -3.0}


def test_counts(table):
    made = table(missing={5, 6}, turns=2)
    assert made["onsets_matched"] == made["strokes_written"] - 4
    assert [row["pass"] for row in made["missing"]] == [1, 1, 2, 2]


def test_json_holds_it_without_minus_zero(table):
    text = json.dumps(table(lag_ms=lambda _stroke: -0.01), allow_nan=False)
    assert "-0.0," not in text


def test_a_refused_take_has_every_key(expected):
    heard = Heard(onsets=(), seconds=3.0)
    said = build_report(expected, heard, Match(passes=(), refused="silence"))
    made = plain(said, write_sentences(said), rate_confidence(said, heard))
    assert set(made) == documented()[0] - ROUND
    assert made["strokes"] == made["missing"] == made["bars"] == []
    assert made["trust"]["level"] == "none"
    assert len(made["words"]) == 3


class TestFigures:
    def test_what_was_measured_in_words(self, expected, perform):
        heard, match = perform(
            lag_ms=lambda stroke: -20.0 if stroke.landing else 0.0, rush_percent=1.0, missing={5}
        )
        rows = dict(list_numbers(build_report(expected, heard, match)))
        assert rows["Landing"] == "20 ms early"
        assert rows["Fill against groove"] == "1.0 % faster, ± 0.2"
        assert rows["Tempo"] == "80.0 in the groove, 80 asked for"
        assert rows["Drift of the groove"] == "the same tempo at its end"
        assert rows["Flams"] == "25 ms ahead ± 0, written 25"
        assert rows["Missing"] == "hi-hat on the & of 2 in bar 1"
        assert rows["Accents over taps"] == "8.0 dB"

    def test_the_hands_and_scatter_of_an_exact_take(self, expected, perform):
        rows = dict(list_numbers(build_report(expected, *perform())))
        assert rows["Right hand against left"] == "less than 1 ms"
        assert rows["Scatter"] == "groove less than 1 ms, fill less than 1 ms"
        assert "right less than 1 ms" in rows["Scatter by hand"]
        assert "Loudness, right against left" in rows

    def test_nothing_of_a_refused_take(self, expected):
        said = build_report(expected, Heard(onsets=(), seconds=3.0), Match(passes=(), refused="silence"))
        assert list_numbers(said) == ()
