"""The page about the lesson file says what the code does."""

import json
import re
import tomllib
from pathlib import Path

import pytest

from fillwright.budget import TABLE_BYTES
from fillwright.craft.brief import TEACHING_ORDER
from fillwright.craft.player.kits import load_kits
from fillwright.craft.steps import plan_steps
from fillwright.errors import TableError
from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.lesson.written_fills import MOST_FILLS
from fillwright.music.grooves import load_grooves
from fillwright.music.meter import list_meters
from fillwright.music.surfaces import load_surfaces
from fillwright.tables.kit_and_groove_keys import GROOVE_KEYS, KIT_KEYS, LINE_KEYS, SPOT_KEYS
from fillwright.tables.kits_and_grooves import MOST_TABLES
from fillwright.tables.lesson_keys import FIGURE_KEYS, FILL_KEYS, LESSON_KEYS, MAX_FIGURES, MAX_NAMED

PAGE = (Path(__file__).parents[1] / "docs" / "lesson-file.md").read_text("utf-8")
LESSON_PART, FIGURE_PART = PAGE.split("## Keys of the lesson")[1].split("## Keys of a figure")
FIGURE_PART, FILL_PART = FIGURE_PART.split("## Mistakes")[0].split("## Keys of a fill of your own")
FILL_PART, GROOVE_PART = FILL_PART.split("## Keys of a groove of your own")
GROOVE_PART, KIT_PART = GROOVE_PART.split("## Keys of a kit of your own")
LINE_PART, SPOT_PART = (part.split("\n### ")[1] for part in (GROOVE_PART, KIT_PART))
PARTS = [
    (LESSON_PART, LESSON_KEYS),
    (FIGURE_PART, FIGURE_KEYS),
    (FILL_PART, FILL_KEYS),
    (GROOVE_PART.split("\n### ")[0], GROOVE_KEYS),
    (LINE_PART, LINE_KEYS),
    (KIT_PART.split("\n### ")[0], KIT_KEYS),
    (SPOT_PART, SPOT_KEYS),
]
EXAMPLES = re.findall(r"^```toml\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)
REFUSED = re.findall(r"^```toml refused\n(.*?)^```\n\n```text\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)


def cells(part, name):
    """The other two cells of the row that documents a key."""
    (row,) = re.findall(rf"^\| `{name}` \| (.*) \| (.*) \|$", part, re.MULTILINE)
    return row


def written(key):
    """A default as the table has it; None where the table says it in words."""
    if key.required:
        return "required"
    if key.default == [kind.value for kind in TEACHING_ORDER]:
        return "all twelve"
    return None if key.default is None else f"`{json.dumps(key.default)}`"


@pytest.mark.parametrize(
    ("part", "key"),
    [(part, key) for part, keys in PARTS for key in keys],
    ids=lambda value: getattr(value, "name", ""),
)
def test_every_key_is_documented_as_it_is_checked(part, key):
    allowed, left_out = cells(part, key.name)
    assert allowed == key.allowed
    assert left_out == (written(key) or left_out)
    assert left_out


@pytest.mark.parametrize(("part", "keys"), PARTS)
def test_no_other_key_is_documented(part, keys):
    table = part.split("### ")[0]
    assert re.findall(r"^\| `(\w+)` \|", table, re.MULTILINE) == [key.name for key in keys]


@pytest.mark.parametrize(("part", "keys"), PARTS)
def test_every_key_has_an_example(part, keys):
    shown = "".join(re.findall(r"^```toml\n(.*?)^```", part, re.DOTALL | re.MULTILINE))
    assert {key.name for key in keys} <= set(re.findall(r"(?:^|[{,] )(\w+) = ", shown, re.MULTILINE))


@pytest.mark.parametrize("example", EXAMPLES, ids=range(len(EXAMPLES)))
def test_every_example_is_read(example):
    table = tomllib.loads(example)
    head = "".join(f"{key} = {value}\n" for key, value in (("number", 1), ("title", '"a"')) if key not in table)
    figure = "" if "figure" in table else '[[figure]]\nname = "single paradiddle"\n'
    lesson = parse_lesson(f"{head}{example}\n{figure}")
    assert all(plan_steps(brief).steps for brief in lesson.list_briefs())


def test_the_complete_example_has_every_key():
    table = tomllib.loads(EXAMPLES[1])
    assert {*table} == {"figure", "fill", "grooves", "kits", *(key.name for key in LESSON_KEYS)}
    (groove,), (kit,) = table["grooves"].values(), table["kits"].values()
    assert {*groove} == {key.name for key in GROOVE_KEYS}
    assert {name for row in groove["lines"] for name in row} == {key.name for key in LINE_KEYS}
    assert {*kit} == {key.name for key in KIT_KEYS}
    assert {name for row in kit["surfaces"] for name in row} == {key.name for key in SPOT_KEYS}
    assert {name for row in table["fill"] for name in row} == {key.name for key in FILL_KEYS}
    assert {name for row in table["figure"] for name in row} == {key.name for key in FIGURE_KEYS}


@pytest.mark.parametrize(("example", "message"), REFUSED, ids=range(len(REFUSED)))
def test_every_mistake_is_reported_as_it_is_quoted(example, message):
    with pytest.raises(TableError, match=r"^lesson\.toml") as caught:
        parse_lesson(example)
    assert str(caught.value) == message.rstrip("\n")


def test_every_quoted_message_is_tried():
    assert len(REFUSED) == PAGE.count("```text\n") == PAGE.count("```toml refused") > 3


def test_every_step_groove_and_surface_is_named():
    steps = LESSON_PART.split("### Steps")[1].split("### ")[0]
    assert re.findall(r"^\| `([a-z ]+)` \|", steps, re.MULTILINE) == [kind.value for kind in TEACHING_ORDER]
    flat = " ".join(PAGE.split())
    assert f"The grooves: {'; '.join(groove.name for groove in load_grooves())}." in flat
    assert f"The surfaces: {', '.join(load_surfaces())}." in flat


def test_the_default_steps_are_as_many_as_the_page_says():
    assert len(TEACHING_ORDER) == 12


def test_the_renamed_key_is_noted_as_it_is_quoted():
    (quoted,) = re.findall(r"^```text note\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)
    text = 'number = 1\ntitle = "a"\npurpose = "Even taps."\n[[figure]]\nname = "flam tap"\n'
    assert parse_lesson(text).notes_on_file == (quoted.rstrip("\n"),)


def test_skipped_steps_are_listed_as_quoted():
    (quoted,) = re.findall(r"^```text left out\n(.*?)^```", PAGE, re.DOTALL | re.MULTILINE)
    text = 'number = 1\ntitle = "a"\nlevel = "first-year"\ntempo = "90..120 step 10"\n'
    told = build_fills(parse_lesson(f'{text}[[figure]]\nname = "single paradiddle"\n')).left_out
    assert set(quoted.splitlines()) < set(told)


def test_the_ladder_of_a_fill_is_as_the_page_says():
    (grade, ceiling, why) = re.findall(r'"Grade (\d+), up to (\d+): ([^"]*)\."', " ".join(PAGE.split()))[0]
    fills = build_fills(parse_lesson(read_demo_text())).fills
    (fill,) = [each for each in fills if each.difficulty == f"Grade {grade}, up to {ceiling}: {why}"]
    assert fill.ladder == (60, 70)
    assert "such a fill has two tempos, 60 and 70" in " ".join(PAGE.split())


def test_every_meter_is_named():
    (named,) = re.findall(r"The meters are (.*?)\.", " ".join(GROOVE_PART.split()))
    assert re.split(", | and ", named) == list(list_meters())


def test_every_kit_is_named():
    player = LESSON_PART.split("### The player")[1].split("### ")[0]
    assert set(load_kits()) == set(re.findall(r'"([a-z -]+)"', player.split("`kit` is")[1]))


def test_limits():
    assert f"up to {TABLE_BYTES // 1000} kB" in PAGE
    assert f"1 to {MAX_FIGURES} figures" in PAGE
    assert f"up to {MOST_FILLS}" in " ".join(FILL_PART.split())
    assert f"at most {MAX_NAMED} fills" in LESSON_PART
    assert all(
        f"A lesson has up to {MOST_TABLES}" in " ".join(part.split()) for part in (GROOVE_PART, KIT_PART)
    )


def test_the_fills_that_the_complete_example_names_are_there():
    assert build_fills(parse_lesson(EXAMPLES[1])).left_out == ()


# Stickings and note values: each row of the page is read, and means what the page says.


@pytest.mark.parametrize(
    ("sticking", "kind", "level"),
    [
        ("R", "single", "tap"),
        ("lR", "flam", "tap"),
        ("rL", "flam", "tap"),
        ("llR", "drag", "tap"),
        ("rrL", "drag", "tap"),
        ("R>", "single", "accent"),
        ("(R)", "single", "ghost"),
        ("Rz", "buzz", "tap"),
        ("lR>", "flam", "accent"),
        ("Rz>", "buzz", "accent"),
    ],
)
def test_stickings_mean_what_the_page_says(sticking, kind, level):
    assert f"`{sticking}`" in FIGURE_PART
    text = (
        f'number = 1\ntitle = "a"\n[[figure]]\nname = "own"\nsticking = "{sticking} | L, - R"\nrhythm = "16"\n'
    )
    strokes = parse_lesson(text).figures[0].figure.strokes
    assert (strokes[0].kind.value, strokes[0].level.value, strokes[2]) == (kind, level, None)
