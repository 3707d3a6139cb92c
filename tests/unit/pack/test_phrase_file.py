import json
import time

import pytest

from fillwright.errors import FillwrightError
from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.pack.contents import list_recipes
from fillwright.pack.phrase_file import FILLS_FILE, read_fills


@pytest.fixture(scope="module")
def written():
    lesson = parse_lesson(read_demo_text())
    fills = build_fills(lesson).fills
    (made,) = [recipe.make()[0] for recipe in list_recipes(lesson, fills, "") if recipe.paths == (FILLS_FILE,)]
    return lesson, fills, made


def test_every_phrase_of_the_demo_comes_back_exact(written):
    lesson, fills, content = written
    read = read_fills(content, "fills.json")
    assert [one.phrase for one in read] == [fill.phrase for fill in fills]
    assert [one.tempos for one in read] == [fill.ladder for fill in fills]
    assert [(one.number, one.slug, one.title) for one in read] == [(f.number, f.slug, f.title) for f in fills]
    assert {one.feel for one in read} == {lesson.feel}
    assert [one.cue for one in read] == [fill.sheet.cue for fill in fills]


def test_lengths_are_fractions_as_text(written):
    table = json.loads(written[2])
    hit = table["fills"][0]["phrase"]["bars"][0]["hits"][1]
    assert hit == {"at": "0", "length": hit["length"], "hand": "right foot", "surface": "kick"}
    assert hit["length"].startswith("1/")
    assert table["version"] == 1


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (b'{"version"', b'["version"', "is not the list of fills of a pack"),
        (b'"version":1', b'"version":2', "has version 2; only version 1 can be read"),
        (b'"surface":"kick"', b'"surface":"bin"', "fill 1: There is no surface"),
        (b'"at":"0"', b'"at":"x"', '"x" is not a length in whole notes'),
        (b'"at":"0"', b'"at":"1/0"', '"1/0" is not a length in whole notes'),
        (b'"hand":"R"', b'"hand":"Q"', 'fill 1: "Q" is not one of R, L'),
        (b'"meter":"4/4"', b'"meter":"4/9"', "fill 1: There is no meter"),
        (b'"slug"', b'"slugs"', "is not the list of fills of a pack"),
    ],
)
def test_a_damaged_file_is_refused_in_a_sentence(written, old, new, message):
    assert old in written[2]
    with pytest.raises(FillwrightError, match=message):
        read_fills(written[2].replace(old, new, 1), "fills.json")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (b'"page":"a4"', b'"page":"a9"', "page"),
        (b'"at":"0"', b'"at":"3/2"', "bar 1 has a stroke at 3/2"),
        (b'"at":"0","length":"1/', b'"at":"0","length":"99999/', "whole notes"),
        (b'"at":"0"', b'"at":"1/99991"', "bar 1 are on no grid of note values"),
        (b'"span":["', b'"span":["9', "the fill goes from 9"),
        (b'"hand":"right foot"', b'"hand":"R"', "its hand or foot can't play"),
        (b'"part":"groove"', b'"part":"landing"', "bar 1 is a landing, and only the last bar can be one"),
        (b'"level":"', b'"level":"x', "is not one of"),
        (b'"number":1', b'"number":' + b"9" * 5_000, "is not the list of fills of a pack"),
        (b'"tempos":[', b'"tempos":[' + b"80," * 200, "is not the list of fills of a pack"),
    ],
)
def test_values_that_no_pack_holds_are_refused(written, old, new, message):
    assert old in written[2]
    with pytest.raises(FillwrightError, match=message) as caught:
        read_fills(written[2].replace(old, new, 1), "fills.json")
    assert len(str(caught.value)) < 300


def test_two_strokes_of_one_hand_at_once_are_refused(written):
    table = json.loads(written[2])
    hits = table["fills"][0]["phrase"]["bars"][0]["hits"]
    hits.append(hits[0] | {"surface": "hi-hat", "hand": "R", "at": "1/8"})
    hits.append(hits[0] | {"surface": "snare", "hand": "R", "at": "1/8"})
    with pytest.raises(FillwrightError, match="in bar 1 a hand or foot has two strokes at once"):
        read_fills(json.dumps(table).encode(), "fills.json")


def test_places_on_a_thousand_grids_are_refused_at_once(written):
    table = json.loads(written[2])
    bar = table["fills"][0]["phrase"]["bars"][0]
    bar["hits"] = [
        bar["hits"][0] | {"at": f"1/{part}", "hand": "R", "surface": "snare"} for part in range(3, 250)
    ]
    start = time.monotonic()
    with pytest.raises(FillwrightError, match="on no grid of note values"):
        read_fills(json.dumps(table).encode(), "fills.json")
    assert time.monotonic() - start < 5
