"""The report as it is stored, and docs/listening.md that describes every key of it."""

import json
import re
from collections import Counter
from pathlib import Path

import pytest

from fillwright.listen.alignment.model import Alignment
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.report.build import build_report
from fillwright.listen.report.confidence import rate_confidence
from fillwright.listen.report.number_table import list_numbers
from fillwright.listen.report.sentences import write_sentences
from fillwright.listen.report.stored.records import TakeOrigin, record_report
from fillwright.listen.report.stored.storage import encode_report

PAGE = Path(__file__).parents[5] / "docs" / "listening.md"
ORIGIN = TakeOrigin(take="take.wav", against="A fill")


def encode(report, detected):
    record = record_report(ORIGIN, report, write_sentences(report), rate_confidence(report, detected))
    return encode_report(record)


@pytest.fixture
def table(expected, perform):
    """The plain values of a take."""

    def of(**how):
        detected, alignment = perform(**how)
        return encode(build_report(expected, detected, alignment), detected)

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
    assert keys == set(table())


@pytest.mark.parametrize("name", ["strokes", "bars", "repetitions", "flams", "rolls", "missing", "extra"])
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
    assert [row["repetition"] for row in made["missing"]] == [1, 1, 2, 2]


def test_json_holds_it_without_minus_zero(table):
    text = json.dumps(table(lag_ms=lambda _stroke: -0.01), allow_nan=False)
    assert "-0.0," not in text


def test_a_refused_take_has_every_key(expected):
    detected = DetectedTake(onsets=(), seconds=3.0)
    made = encode(build_report(expected, detected, Alignment(repetitions=(), refused="silence")), detected)
    assert set(made) == documented()[0]
    assert made["strokes"] == made["missing"] == made["bars"] == ()
    assert made["confidence"]["level"] == "none"
    assert len(made["words"]) == 3


class TestNumbers:
    def test_the_record_has_the_same_table(self, expected, perform):
        detected, alignment = perform()
        report = build_report(expected, detected, alignment)
        assert encode(report, detected)["numbers"] == list_numbers(report)

    def test_the_measured_numbers_in_words(self, expected, perform):
        detected, alignment = perform(
            lag_ms=lambda stroke: -20.0 if stroke.landing else 0.0, rush_percent=1.0, missing={5}
        )
        rows = dict(list_numbers(build_report(expected, detected, alignment)))
        assert rows["Landing"] == "20 ms early"
        assert rows["Tempo of the fill"] == "1.0 % faster than the groove"
        assert rows["Tempo of the groove"] == "80.0 bpm, target 80 bpm"
        assert rows["End of the groove"] == "same tempo as its start"
        assert rows["Flams"] == "25 ms ahead (written: 25 ms), uneven by less than 1 ms"
        assert rows["Missing"] == "hi-hat on the & of 2 in bar 1"
        assert rows["Accents"] == "8.0 dB louder than the taps"

    def test_missing_and_extra_strokes(self, report_on, expected):
        moments = Counter(round(stroke.seconds, 3) for stroke in expected.strokes)
        alone = [n for n, stroke in enumerate(expected.strokes) if moments[round(stroke.seconds, 3)] == 1]
        rows = dict(list_numbers(report_on(missing=alone[:4], extra_seconds=(3.0, 7.7))))
        assert rows["Missing"].count(" – ") == 3
        assert rows["Missing"].endswith(" – and 1 more")
        assert rows["Extra"] == "2, the first in bar 1"

    def test_a_missing_stroke_that_the_sentences_leave_out_is_perhaps_missing(self, report_on, expected):
        snare = next(n for n, one in enumerate(expected.strokes) if one.surface == "snare" and not one.in_fill)
        rows = dict(list_numbers(report_on(missing={snare})))
        assert "Missing" not in rows
        assert rows["Perhaps missing"].startswith("snare on beat")

    def test_the_hands_and_unevenness_of_an_exact_take(self, report_on):
        rows = dict(list_numbers(report_on()))
        assert rows["Right hand"] == "less than 1 ms from the left hand"
        assert rows["Groove"] == rows["Fill"] == rows["Right hand alone"] == "uneven by less than 1 ms"
        assert "Right-hand loudness" in rows

    def test_a_late_hand_in_one_take_and_over_several_repetitions(self, report_on):
        late = {"lag_ms": lambda stroke: 20.0 if stroke.in_fill and stroke.hand == "L" else 0.0}
        once = dict(list_numbers(report_on(**late)))["Right hand"]
        assert re.fullmatch(r"\d+ ms before the left hand in this take", once)
        often = dict(list_numbers(report_on(**late, turns=4)))["Right hand"]
        assert re.fullmatch(r"\d+ ms before the left hand", often)

    @pytest.mark.parametrize("how", [{}, {"turns": 3}, {"missing": {3, 5}}, {"extra_seconds": (3.0,)}])
    def test_no_row_has_a_plus_minus_or_a_semicolon(self, report_on, how):
        for name, value in list_numbers(report_on(**how)):
            assert not re.search("[±;]|chance|scatter", f"{name} {value}", re.IGNORECASE)

    def test_nothing_of_a_refused_take(self, expected):
        alignment = Alignment(repetitions=(), refused="silence")
        report = build_report(expected, DetectedTake(onsets=(), seconds=3.0), alignment)
        assert list_numbers(report) == ()
