import json

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
