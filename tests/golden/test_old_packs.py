"""A pack of the version before the new names still reads: `fills.json`, `pack.json`, the lesson, a MIDI file.

`packs/version-1` was built by that version from the lesson in it (one figure, two steps, two tempos); of its
files only these are kept.
"""

import json
import shutil
from fractions import Fraction
from pathlib import Path

import pytest

from fillwright.lesson.file import read_lesson
from fillwright.lesson.fills import build_fills
from fillwright.pack.build import is_current
from fillwright.pack.contents import list_recipes
from fillwright.pack.phrase_file import FILLS_FILE, encode_fills, read_fills
from fillwright.score.parts.midi_notes import get_default_notes
from fillwright.take.reference import find_reference

PACK = Path(__file__).with_name("packs") / "version-1"
FIRST = "01-single-paradiddle-last-beat"


@pytest.fixture(scope="module")
def lesson():
    return read_lesson(PACK / "lesson.toml")


def test_its_fills_are_those_of_the_lesson_today(lesson):
    old = read_fills((PACK / FILLS_FILE).read_bytes(), FILLS_FILE)
    assert [fill.phrase for fill in old] == [fill.phrase for fill in build_fills(lesson).fills]
    assert [fill.slug for fill in old] == [fill.slug for fill in build_fills(lesson).fills]
    assert {fill.tempos for fill in old} == {(60, 90)}


def test_its_fills_are_written_as_they_were_read():
    content = (PACK / FILLS_FILE).read_bytes()
    assert encode_fills(read_fills(content, FILLS_FILE)) == content


def test_its_list_reads_and_is_not_taken_for_a_pack_of_this_version(lesson):
    fills = build_fills(lesson).fills
    assert not is_current(PACK, lesson, fills, (PACK / "lesson.toml").read_text("utf-8"))
    table = json.loads((PACK / "pack.json").read_text("utf-8"))
    assert [row["files"]["mid"].split("/")[1] for row in table["fills"]] == [fill.slug for fill in fills]


@pytest.mark.parametrize("tempo", [None, 90])
def test_a_take_can_be_compared_with_it(tempo):
    reference = find_reference(PACK, get_default_notes(), fill=2, tempo=tempo)
    assert reference.title == read_fills((PACK / FILLS_FILE).read_bytes(), FILLS_FILE)[1].title
    assert reference.ladder == (60, 90)
    assert reference.meter is not None
    assert reference.meter.name == "4/4"
    assert reference.fill is not None
    assert reference.fill.phrase.span is not None
    assert reference.fill.phrase.span.start == Fraction(5, 4)
    assert reference.expected.tempo == (60 if tempo is None else tempo)


def test_a_file_of_it_leads_to_its_fill():
    reference = find_reference(PACK / "fills" / FIRST / f"{FIRST}.mid", get_default_notes())
    assert reference.fill is not None
    assert reference.fill.slug == FIRST


def test_its_midi_file_is_a_reference_outside_the_pack_too(tmp_path):
    alone = tmp_path / "alone.mid"
    shutil.copy(PACK / "fills" / FIRST / f"{FIRST}.mid", alone)
    found = find_reference(alone, get_default_notes())
    inside = find_reference(PACK, get_default_notes(), fill=1)
    assert len(found.expected.strokes) == len(inside.expected.strokes)


def test_the_same_lesson_gives_the_same_midi_file(lesson):
    name = f"fills/{FIRST}/{FIRST}.mid"
    (recipe,) = [
        recipe for recipe in list_recipes(lesson, build_fills(lesson).fills, "") if recipe.paths == (name,)
    ]
    assert recipe.make() == ((PACK / name).read_bytes(),)
