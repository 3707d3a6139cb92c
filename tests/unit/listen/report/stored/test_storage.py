"""Stored reports: what is written reads back, and so does what version 1 wrote."""

import json
from pathlib import Path

import msgspec
import pytest

from fillwright.errors import FillwrightError
from fillwright.listen.report.build import build_report
from fillwright.listen.report.confidence import rate_confidence
from fillwright.listen.report.sentences import write_sentences
from fillwright.listen.report.stored.records import TakeOrigin, record_report
from fillwright.listen.report.stored.schema import VERSION
from fillwright.listen.report.stored.storage import decode_report, encode_report

GOLDEN = Path(__file__).parents[4] / "golden" / "reports"
OLD = sorted(GOLDEN.glob("*-1.json"))


@pytest.fixture
def record(expected, perform):
    """The record of a take with a bit of everything."""
    detected, alignment = perform(
        missing={5},
        extra_seconds=(3.0,),
        turns=2,
        surface=lambda stroke: "rim" if stroke.in_fill and not stroke.landing else stroke.surface,
    )
    report = build_report(expected, detected, alignment)
    origin = TakeOrigin(take="take.wav", against="Paradiddle", fill=3, remarks=("Note 3 is unknown.",))
    return record_report(origin, report, write_sentences(report), rate_confidence(report, detected))


def test_what_is_written_reads_back(record):
    table = encode_report(record)
    assert table["version"] == VERSION
    assert decode_report(table) == record
    assert decode_report(json.loads(json.dumps(table, allow_nan=False))) == record
    assert decode_report(json.dumps(table).encode()) == record
    assert record.wrong_surface
    assert record.missing
    assert record.extra


def test_there_are_old_reports():
    assert {path.stem for path in OLD} == {"good-1", "rushed-1", "silent-1", "wrong-1"}


@pytest.mark.parametrize("path", OLD, ids=lambda path: path.stem)
def test_version_1_reads(path):
    old = json.loads(path.read_text("utf-8"))
    record = decode_report(old)
    assert decode_report(path.read_bytes()) == record
    assert record.version == VERSION
    assert (record.take, record.refused, list(record.words)) == (old["take"], old["refused"], old["words"])
    assert (record.tempo_target, record.fill_unevenness_ms) == (old["tempo_asked"], old["fill_spread_ms"])
    assert (record.confidence.level, list(record.confidence.limits)) == tuple(old["trust"].values())
    assert record.numbers == ()
    assert len(record.repetitions) == len(old["passes"])
    assert len(record.not_audible) == len(old["unheard"])
    for stroke, row in zip(record.strokes, old["strokes"], strict=True):
        assert stroke.repetition == row["pass"]
        assert (stroke.lag_ms, stroke.dynamics, stroke.loudness_db) == (
            row["lag_ms"],
            row["level"],
            row["level_db"],
        )
        assert (stroke.surface_played, stroke.surface_confidence) == (row["surface_heard"], row["surface_sure"])
    assert [place.surface_played for place in record.wrong_surface] == [
        row["surface_heard"] for row in old["wrong_surface"]
    ]
    if old["hands"]:
        assert record.hands.right.loudness_db == old["hands"]["right"]["level_db"]
        assert record.hands.right_less_left.lag_ms == old["hands"]["right_less_left"]["lag_ms"]


def test_version_1_outcomes_have_their_new_names():
    old = json.loads((GOLDEN / "wrong-1.json").read_text("utf-8"))
    old["strokes"][0]["outcome"] = "heard, timing unsure"
    old["strokes"][1]["outcome"] = "couldn't hear"
    outcomes = [stroke.outcome for stroke in decode_report(old).strokes]
    assert outcomes[:2] == ["timing uncertain", "not audible"]
    assert "missing" in outcomes


def test_version_1_rows_of_the_studio_are_kept():
    old = json.loads((GOLDEN / "good-1.json").read_text("utf-8"))
    old["figures"] = [["Landing", "on the beat"], ["Against the click", "3 ms late"]]
    assert decode_report(old).numbers == (("Landing", "on the beat"), ("Against the click", "3 ms late"))


def test_an_upgraded_report_is_stored_under_the_new_names():
    old = json.loads((GOLDEN / "rushed-1.json").read_text("utf-8"))
    table = encode_report(decode_report(old))
    assert decode_report(table) == decode_report(old)
    assert not {"passes", "trust", "unheard", "tempo_asked"} & set(table)


@pytest.mark.parametrize(
    ("change", "part"),
    [
        (lambda table: table.pop("strokes"), "missing required field `strokes`"),
        (lambda table: table.update(more=1), "unknown field `more`"),
        (lambda table: table["strokes"][3].update(lag_ms="late"), r"\$.strokes\[3\].lag_ms"),
        (lambda table: table["strokes"][3].update(outcome="lost"), "outcome"),
        (lambda table: table.update(seconds=float("nan")), "seconds"),
        (lambda table: table["bars"][0].update(bar=0), "bar"),
        (lambda table: table.update(words=["one", "two"]), "words"),
        (lambda table: table.update(refused="bored"), "refused"),
        (lambda table: table.update(version="two"), "version"),
        (lambda table: table.update(version=0), "version"),
    ],
)
def test_a_damaged_report_is_one_clear_error(record, change, part):
    table = encode_report(record)
    table = msgspec.json.decode(msgspec.json.encode(table))
    change(table)
    with pytest.raises(FillwrightError, match=f"^The report on take 4 is damaged .*{part}"):
        decode_report(table, where="The report on take 4")


@pytest.mark.parametrize("name", ["tempo_asked", "strokes", "trust"])
def test_a_damaged_version_1_report_is_one_clear_error(name):
    old = json.loads((GOLDEN / "good-1.json").read_text("utf-8"))
    old[name] = {"nothing": "here"}
    with pytest.raises(FillwrightError, match=r"^The report is damaged"):
        decode_report(old)


def test_a_key_under_both_names_is_an_error():
    old = json.loads((GOLDEN / "good-1.json").read_text("utf-8"))
    old["repetitions"] = []
    with pytest.raises(FillwrightError, match=r"Both `passes` and `repetitions`"):
        decode_report(old)


@pytest.mark.parametrize("content", [b"", b"[]", b"{", b"\xff", b"7"])
def test_bytes_that_are_not_a_report(content):
    with pytest.raises(FillwrightError, match=r"^The report is damaged"):
        decode_report(content)


def test_a_report_of_a_newer_version(record):
    table = encode_report(record) | {"version": VERSION + 1}
    with pytest.raises(FillwrightError, match=rf"newer version .*this one reads versions 1 to {VERSION}"):
        decode_report(table)


@pytest.mark.parametrize("name", ["rushed-2", "wrong-2"])
def test_version_2_reads_and_keeps_every_number(name):
    text = (GOLDEN / f"{name}.json").read_text("utf-8")
    record = decode_report(text.encode())
    before, after = json.loads(text), json.loads(json.dumps(encode_report(record)))
    assert after["version"] == VERSION
    assert record.verdict is None
    for key in before.keys() - {"version", "repetitions"}:
        assert after[key] == before[key]
    for row, old in zip(after["repetitions"], before["repetitions"], strict=True):
        assert old.items() <= row.items()
    assert len(record.numbers) > 10
