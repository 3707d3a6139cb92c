"""Engraved sheets: notes with their ids, words in straight rows, nothing off the page, always the same."""

from __future__ import annotations

import random
import re
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from fillwright.craft.brief import Brief
from fillwright.craft.chains.readings import fit_rhythms
from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.craft.steps import plan_steps
from fillwright.music.figure import Figure
from fillwright.music.grooves import Groove, find_groove, load_grooves
from fillwright.music.phrase import build_landing, build_phrase
from fillwright.music.rudiments import find_figure, load_rudiments
from fillwright.music.stroke import Kind, Limb
from fillwright.score.engraving.engrave import Engraving, engrave, engrave_key
from fillwright.score.engraving.notation_key import find_signs
from fillwright.score.sheet import Sheet, spell_graces

Drawn = Callable[[Sheet | Engraving], Any]
HEAD = 234
"""Width of a note head."""

OUR_FAMILIES = ("'Source Serif Pro'", "'Source Sans Pro'")


def fills(figure: Figure, groove: Groove, *, bars: int = 2, lead: Limb = Limb.RIGHT) -> Iterator[Sheet]:
    """Return every step of a figure in a groove, as a lesson would print it."""
    meter = groove.meter
    if not fit_rhythms(figure, meter):
        return
    asked = Brief(figure=figure, meter=meter, bars=bars, lead=lead, earlier=load_rudiments()[:1])
    for step in plan_steps(asked).steps:
        played = build_phrase(groove, step.fill, bars=bars, land=build_landing(meter, step.lands))
        yield Sheet(phrase=played, tempo="60–100", label="Fill")


def make_sheet(
    name: str, groove: str = "straight eighths", *, beats: str = "1", bars: int = 4, **words: Any
) -> Sheet:
    """Return a figure over the last beats."""
    found = find_groove(groove)
    brief = Brief(figure=find_figure(name), meter=found.meter, bars=bars, kinds=(), beats=(Fraction(beats),))
    (step,) = plan_steps(brief).steps
    played = build_phrase(found, step.fill, bars=bars, land=build_landing(found.meter, step.lands))
    return replace(Sheet(phrase=played, tempo="80", label="Fill"), **words)


def list_ids(sheet: Sheet) -> set[str]:
    """Return ids of every note that stands on the page, grace notes and the heads of chords too."""
    ids: set[str] = set()
    for bar in sheet.bars():
        if sheet.is_repeat(bar):
            continue
        for note in [*bar.hands.notes(), *bar.feet.notes()]:
            ids.add(note.id)
            ids.update(f"{note.id}g{i}" for i in range(len(spell_graces(note))))
            if len(note.hits) > 1:
                ids.update(f"{note.id}k{i}" for i in range(len(note.hits)))
    return ids


def check(sheet: Sheet, drawing: Any) -> None:
    """Check what holds for every engraving."""
    ids = drawing.ids
    assert len(ids) == len(set(ids))
    assert set(ids) == list_ids(sheet)
    assert "<style" not in drawing.svg
    check_rows(sheet, drawing)
    check_page(drawing)


def check_rows(sheet: Sheet, drawing: Any) -> None:
    """Check letters on one line, counts on one line below, each under its own note and clear of others."""
    for row, gap in (*((r, 20) for r in drawing.rows("stick")), *((r, 10) for r in drawing.rows("verse"))):
        assert len({word.y for word in row}) == 1
        assert all(right.left - left.right > gap for left, right in pairwise(row)), [w.text for w in row]
    lines = dict.fromkeys(word.system for row in drawing.rows("stick") for word in row)
    for system in lines:
        sticks = [w.y for w in drawing.words if w.system == system and "stick" in w.kind.split()]
        counts = [w.y - w.size * 0.75 for w in drawing.words if w.system == system and w.kind == "verse"]
        assert max(sticks) < min(counts, default=1e9)
    letters = [w.text for row in drawing.rows("stick") for w in row if "grace" not in w.kind]
    assert letters == [text for _, text in sheet.stickings()]
    counted = [w.text for row in drawing.rows("verse") for w in row]
    assert counted in ([word for _, word in engraving.counts()] for engraving in (sheet, sheet.thin_counts()))


def check_page(drawing: Any) -> None:
    """Check that all is on the page, and every text in one of our faces."""
    for word in drawing.words:
        assert word.family.startswith(OUR_FAMILIES)
        assert word.size >= 230, "still to be read: 1.9 mm"
        assert word.left >= -10
        assert word.right <= drawing.width + 10
        assert word.size <= word.y + 200 < drawing.height + 200
    for x, y in drawing.shapes:
        assert -10 <= x <= drawing.width + 10
        assert -10 <= y <= drawing.height


@pytest.mark.parametrize("figure", load_rudiments(), ids=lambda figure: figure.name)
def test_a_rudiment_by_itself(figure: Figure, drawn: Drawn) -> None:
    sheet = Sheet(phrase=build_sheet_phrase(figure))
    check(sheet, drawn(sheet))


@pytest.mark.parametrize("figure", load_rudiments(), ids=lambda figure: figure.name)
def test_every_step_of_a_rudiment_in_four_four(figure: Figure, drawn: Drawn) -> None:
    seen = 0
    for sheet in fills(figure, find_groove("straight eighths"), bars=4):
        drawing = drawn(sheet)
        check(sheet, drawing)
        check_fill_line(sheet, drawing)
        seen += 1
    assert seen >= 4


@pytest.mark.parametrize("number", range(len(load_grooves())), ids=lambda number: load_grooves()[number].name)
def test_a_sample_of_rudiments_in_every_groove(number: int, drawn: Drawn) -> None:
    groove = load_grooves()[number]
    sample = load_rudiments()[number % 7 :: 7]
    sheets = [sheet for figure in sample for sheet in list(fills(figure, groove, lead=Limb.LEFT))[::3]]
    assert len(sheets) >= 3
    for sheet in sheets:
        drawing = drawn(sheet)
        check(sheet, drawing)
        check_fill_line(sheet, drawing)


def check_fill_line(sheet: Sheet, drawing: Any) -> None:
    """Check that the line over the fill ends above its last note, and there alone is closed."""
    lines = [path.get("d") for span in drawing.groups("span") for path in span if path.tag.endswith("path")]
    last = sheet.select_fill()[-1]
    closed = [line for line in lines if line.rstrip().endswith("v110")]
    assert len(closed) <= 1
    assert len(sheet.select_fill()) < 4 or closed
    for line in closed:
        end = float(re.findall(r"H(\S+)", line)[0])
        assert 0 < end - drawing.heads[last.id][0] < 400
    labels = [word for word in drawing.words if word.kind == "span"]
    assert [word.text for word in labels] == ["Fill"]


def test_a_phrase_that_fits_is_on_one_line_with_bar_repeats(drawn: Drawn) -> None:
    sheet = make_sheet("single paradiddle", beats="2")
    engraving = engrave(sheet)
    assert engraving.systems == 1
    assert [g.get("id") for g in drawn(engraving).groups("mRpt")] == ["b2", "b3"]
    assert engraving.svg.count("E500") > 1  # SMuFL: repeat1Bar


def test_a_fill_that_needs_room_has_a_line_of_its_own(drawn: Drawn) -> None:
    engraving = engrave(make_sheet("single paradiddle", "slow twelve-eight", beats="4"))
    assert engraving.systems == 2
    drawing = drawn(engraving)
    assert {word.system for word in drawing.words if word.kind == "verse"} == {1}


@pytest.mark.parametrize(("bars", "lines"), [(8, 2), (20, 4), (64, 9)])
def test_many_bars_of_groove_are_eight_on_a_line(bars: int, lines: int, drawn: Drawn) -> None:
    engraving = engrave(make_sheet("flam tap", beats="4", bars=bars))
    assert engraving.systems == lines
    for system in drawn(engraving).groups("system"):
        assert sum("measure" in g.get("class", "").split() for g in system) <= 8


def test_a_fill_of_two_bars_has_a_line_for_each_and_its_line_goes_on(drawn: Drawn) -> None:
    sheet = make_sheet("flam tap", beats="8")
    drawing = drawn(sheet)
    assert len(drawing.groups("system")) == 3
    lines = [
        path.get("d").strip() for span in drawing.groups("span") for path in span if path.tag.endswith("path")
    ]
    assert [line.endswith("v110") for line in lines] == [False, True]
    check(sheet, drawing)
    check_fill_line(sheet, drawing)


def test_a_line_may_show_the_fill_alone(drawn: Drawn) -> None:
    sheet = make_sheet("flam tap", beats="4", from_bar=4, tempo="", closing="single")
    drawing = drawn(sheet)
    check(sheet, drawing)
    assert not any(note.startswith(("b1", "b2", "b3")) for note in drawing.ids)
    assert not drawing.groups("tempo")


def test_a_groove_repeated_in_the_first_bar_shown_is_written_out(drawn: Drawn) -> None:
    drawing = drawn(make_sheet("flam tap", beats="4", from_bar=2))
    assert [g.get("id") for g in drawing.groups("mRpt")] == ["b3"]
    assert any(note.startswith("b2h") for note in drawing.ids)


def test_lines_break_where_asked() -> None:
    assert engrave(make_sheet("flam tap", break_before=(3,))).systems == 2


def test_the_same_sheet_is_the_same_drawing() -> None:
    assert engrave(make_sheet("flam drag", beats="2")).svg == engrave(make_sheet("flam drag", beats="2")).svg


def test_an_engraving_between_leaves_no_trace() -> None:
    first = engrave(make_sheet("flam drag", beats="2")).svg
    engrave(make_sheet("single ratamacue", "shuffle", beats="4"), width_mm=120)
    assert engrave(make_sheet("flam drag", beats="2")).svg == first


def test_another_thread_engraves_the_same() -> None:
    engraving: list[str] = []
    thread = threading.Thread(target=lambda: engraving.append(engrave(make_sheet("flam", beats="1")).svg))
    thread.start()
    thread.join()
    assert engraving == [engrave(make_sheet("flam", beats="1")).svg]


def test_size_on_paper_follows_the_measure() -> None:
    wide, narrow = engrave(make_sheet("flam"), width_mm=174), engrave(make_sheet("flam"), width_mm=120)
    assert (wide.width_mm, narrow.width_mm) == (174, 120)
    for engraving in (wide, narrow):
        width, height = re.findall(r'viewBox="0 0 (\S+) (\S+)"', engraving.svg)[0]
        assert engraving.height_mm / engraving.width_mm == pytest.approx(float(height) / float(width))


@pytest.mark.parametrize("label", ["<&>\"'", "Füll ½ & mehr", "</dir><mei>", "&amp;", "5 > 4"])
def test_a_label_survives_as_it_is(label: str, drawn: Drawn) -> None:
    drawing = drawn(make_sheet("flam tap", beats="2", label=label))
    assert [word.text for word in drawing.words if word.kind == "span"] == [label]


def test_words_of_a_cue_survive_and_repeat(drawn: Drawn) -> None:
    cue = ("<p>", 'a"', "&", "d'l")
    drawing = drawn(make_sheet("single paradiddle", beats="2", cue=cue))
    (row,) = drawing.rows("verse")
    assert [word.text for word in row] == [*cue, *cue, "1"]


def test_a_word_of_a_thousand_letters_does_not_break(drawn: Drawn) -> None:
    drawing = drawn(make_sheet("single paradiddle", beats="1", cue=("a" * 1000, "b", "c", "d")))
    assert "a" * 1000 in [word.text for word in drawing.words]
    assert drawing.ids
    drawing = drawn(make_sheet("flam tap", label="F" * 1000))
    assert "F" * 1000 in [word.text for word in drawing.words]


def test_without_sticking_and_counting_there_are_no_rows(drawn: Drawn) -> None:
    drawing = drawn(make_sheet("flam tap", sticking=False, counting=False))
    assert not list(drawing.rows("stick"))
    assert not list(drawing.rows("verse"))


def test_the_letters_of_grace_notes_are_smaller(drawn: Drawn) -> None:
    drawing = drawn(make_sheet("drag", beats="1"))
    sizes = {word.text: word.size for row in drawing.rows("stick") for word in row}
    assert sizes["l"] < 0.9 * sizes["R"]
    assert [word.text for row in drawing.rows("stick") for word in row][:3] == ["l", "l", "R"]


def test_a_key_shows_every_sign_with_its_name(drawn: Drawn) -> None:
    hits = [*find_groove("funk with ghost notes").hits, *make_sheet("flam drag", beats="4").phrase.hits()]
    signs = [sign for group in find_signs(hits) for sign in group]
    drawing = drawn(engrave_key(signs))
    assert {hit.stroke.kind for hit in hits} >= {Kind.FLAM}
    (row,) = drawing.rows("verse")
    assert [word.text for word in row] == [sign.label for sign in signs]
    assert all(right.left > left.right for left, right in pairwise(row))
    check_page(drawing)


@pytest.mark.parametrize("seed", range(6))
def test_fifty_fills_by_chance_overflow_nothing(seed: int, drawn: Drawn) -> None:
    """Engrave any rudiment in any rhythm, groove and step, as wide as two pages set it."""
    chance = random.Random(seed)
    engraving = 0
    while engraving < 50:
        sheet = by_chance(chance)
        if sheet is None:
            continue
        engraving += 1
        drawing = drawn(engrave(sheet, width_mm=chance.choice([174.0, 180.0])))
        check(sheet, drawing)
        check_spacing(sheet, drawing)


def by_chance(chance: random.Random) -> Sheet | None:
    """Return a fill as a lesson would print it; None where the figure drawn does not fit the meter drawn."""
    groove, figure = chance.choice(load_grooves()), chance.choice(load_rudiments())
    rhythms = fit_rhythms(figure, groove.meter)
    if not rhythms:
        return None
    bars = chance.choice([1, 2, 4, 4, 8])
    asked = Brief(
        figure=figure,
        meter=groove.meter,
        bars=bars,
        rhythm=chance.choice(rhythms),
        lead=chance.choice([Limb.RIGHT, Limb.LEFT]),
        earlier=(chance.choice(load_rudiments()),),
    )
    steps = plan_steps(asked).steps
    if not steps:
        return None
    step = chance.choice(steps)
    played = build_phrase(groove, step.fill, bars=bars, land=build_landing(groove.meter, step.lands))
    return Sheet(
        phrase=played.mirror() if chance.random() < 0.2 else played,
        tempo="60–100",
        label="Fill",
        short_rolls=chance.random() < 0.3,
    )


def check_spacing(sheet: Sheet, drawing: Any) -> None:
    """Check that heads of one voice are apart by more than their width."""
    for bar in sheet.bars():
        if not sheet.is_repeat(bar):
            for voice in (bar.hands, bar.feet):
                places = [drawing.heads[note.id][0] for note in voice.notes()]
                assert all(later - sooner > 1.05 * HEAD for sooner, later in pairwise(places))
