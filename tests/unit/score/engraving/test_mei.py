"""MEI made from checked values: well formed whatever the words, every note and word where it belongs."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from fillwright.craft.brief import Brief
from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.craft.steps import plan_steps
from fillwright.music.grooves import find_groove
from fillwright.music.meter import find_meter
from fillwright.music.phrase import build_landing, build_phrase
from fillwright.music.rudiments import find_figure
from fillwright.score.engraving.mei import wrap_document, write_mei
from fillwright.score.sheet import Sheet

MEI = "{http://www.music-encoding.org/ns/mei}"
ID = "{http://www.w3.org/XML/1998/namespace}id"


def sheet(name: str = "flam tap", groove: str = "straight eighths", beats: str = "1", **words: Any) -> Sheet:
    find = find_groove(groove)
    brief = Brief(figure=find_figure(name), meter=find.meter, bars=2, kinds=(), beats=(Fraction(beats),))
    (step,) = plan_steps(brief).steps
    played = build_phrase(find, step.fill, bars=2, land=build_landing(find.meter, step.lands))
    return replace(Sheet(phrase=played, tempo="80", label="Fill"), **words)


def alone(name: str, where: str = "4/4") -> ET.Element:
    return ET.fromstring(
        write_mei(Sheet(phrase=build_sheet_phrase(find_figure(name), meter=find_meter(where))))
    )


def find(root: ET.Element, name: str) -> list[ET.Element]:
    return list(root.iter(f"{MEI}{name}"))


def text(element: ET.Element) -> str:
    return "".join(element.itertext())


def test_a_document_is_well_formed_and_empty_of_all_but_its_measures() -> None:
    root = ET.fromstring(wrap_document("<measure/>"))
    assert len(find(root, "measure")) == 1
    assert find(root, "staffDef")[0].get("clef.shape") == "perc"


@pytest.mark.parametrize(("name", "count", "unit"), [("4/4", "4", "4"), ("7/8", "7", "8"), ("12/8", "12", "8")])
def test_the_meter_is_signed(name: str, count: str, unit: str) -> None:
    (definition,) = find(alone("flam tap", name), "scoreDef")
    assert (definition.get("meter.count"), definition.get("meter.unit")) == (count, unit)


@pytest.mark.parametrize("words", ["<&>\"'", "</dir>", "]]>", "&#0;", "½–é𝄞"])
def test_words_are_escaped_and_whole(words: str) -> None:
    root = ET.fromstring(write_mei(sheet(label=words, tempo=words, cue=(words, "b"))))
    assert [text(d) for d in find(root, "dir") if d.get("type") == "span"] == [words]
    assert text(find(root, "tempo")[0]).rstrip("\u00a0").endswith(f" = {words}")
    assert words in [text(syl) for syl in find(root, "syl")]


def test_a_bar_like_the_one_before_is_a_sign() -> None:
    root = ET.fromstring(write_mei(sheet(beats="1/2")))
    assert [len(list(measure.iter(f"{MEI}mRpt"))) for measure in find(root, "measure")] == [0, 0, 0]
    found_groove = find_groove("straight eighths")
    root = ET.fromstring(write_mei(Sheet(phrase=build_phrase(found_groove, None, bars=3))))
    assert [sign.get(ID) for sign in find(root, "mRpt")] == ["b2", "b3"]


def test_lines_break_and_end_where_the_sheet_says() -> None:
    root = ET.fromstring(write_mei(sheet(break_before=(2,))))
    section = find(root, "section")[0]
    assert [child.tag.removeprefix(MEI) for child in section] == ["measure", "sb", "measure", "measure"]
    assert [measure.get("right") for measure in find(root, "measure")] == [None, None, "end"]
    root = ET.fromstring(write_mei(sheet(closing="single")))
    assert {measure.get("right") for measure in find(root, "measure")} == {None}


@pytest.mark.parametrize(("name", "graces", "value"), [("flam tap", 1, "8"), ("drag", 2, "16")])
def test_grace_notes_come_before_the_beam_with_a_slur(name: str, graces: int, value: str) -> None:
    root = alone(name)
    for group in find(root, "graceGrp"):
        notes = list(group.iter(f"{MEI}note"))
        assert [note.get("dur") for note in notes] == [value] * graces
        assert {note.get("grace") for note in notes} == {"unacc"}
    ids = {note.get(ID) for note in root.iter() if note.get(ID)}
    for slur in find(root, "slur"):
        assert {slur.get("startid", "")[1:], slur.get("endid", "")[1:]} <= ids
    assert len(find(root, "slur")) == len(find(root, "graceGrp"))
    for beam in find(root, "beam"):
        assert beam[0].tag != f"{MEI}graceGrp", "a grace note that opens a beam stands before it"


def test_a_buzz_is_marked_on_its_stem_and_an_accent_above() -> None:
    assert {note.get("stem.mod") for note in find(alone("multiple bounce roll"), "note")} == {"z"}
    artics = find(alone("single paradiddle"), "artic")
    assert [(artic.get("artic"), artic.get("place")) for artic in artics] == [("acc", "above")] * 2


@pytest.mark.parametrize(("short", "slashes"), [(True, {"3slash"}), (False, set())])
def test_rolls_are_abbreviated_where_asked(short: bool, slashes: set[str]) -> None:
    root = ET.fromstring(write_mei(sheet("nine stroke roll", beats="2", short_rolls=short)))
    marks = {note.get("stem.mod") for note in find(root, "note")} - {None}
    assert marks == slashes
    assert len(find(root, "tie")) == len(slashes)


def test_ghost_notes_have_brackets_and_open_hi_hats_their_sign() -> None:
    root = ET.fromstring(write_mei(sheet(groove="funk with ghost notes")))
    assert {note.get("head.mod") for note in find(root, "note")} == {None, "paren"}
    root = ET.fromstring(write_mei(sheet(groove="off-beat open hi-hat")))
    assert "open" in {artic.get("artic") for artic in find(root, "artic")}


@pytest.mark.parametrize(
    ("groove", "signs"), [("straight eighths", "\ueca5"), ("six-eight", "\ueca5\u2009\uecb7")]
)
def test_the_tempo_counts_the_beat_of_the_meter(groove: str, signs: str) -> None:
    root = ET.fromstring(write_mei(sheet("single paradiddle", groove, beats="2")))
    assert text(find(root, "tempo")[0]).rstrip("\u00a0") == f"{signs} = 80"


def test_letters_are_in_one_row_with_those_of_grace_notes() -> None:
    root = ET.fromstring(write_mei(sheet()))
    rows = [d for d in find(root, "dir") if "stick" in d.get("type", "").split()]
    assert {d.get("vgrp") for d in rows} == {"100"}
    assert [text(d).strip("\u00a0") for d in rows] == ["l", "R", "R", "r", "L", "L", "R"]
    assert [d.get("type") for d in rows[:2]] == ["stick grace", "stick"]


def test_an_empty_voice_of_the_feet_is_hidden_and_of_the_hands_a_rest() -> None:
    root = alone("single paradiddle")
    assert len(find(root, "mSpace")) == 1
    assert not find(root, "mRest")
