import base64
import hashlib
import json
import re
from dataclasses import replace
from importlib.resources import files
from typing import ClassVar

import pytest
from lxml import html

from fillwright.pack.practice.data import as_json, gather_page_data, make_lesson_id
from fillwright.pack.practice.page import PLAYER_MODULES, build_practice_page


@pytest.fixture
def page(lesson, tones):
    """A page and its tree."""

    def made(**words):
        read, fills = lesson(**words)
        text = build_practice_page(read, fills, bank=tones())
        return text, html.fromstring(text), fills

    return made


def data_of(tree):
    return json.loads(tree.get_element_by_id("data").text)


def test_it_needs_nothing_from_outside(page):
    text, tree, _ = page()
    for element in tree.iter():
        for name in ("src", "href", "action", "poster"):
            value = element.get(name, "#")
            assert value.startswith(("#", "data:")), (element.tag, value)
    style = tree.find(".//style").text
    assert re.findall(r"url\((?!data:)", style) == []
    assert "@import" not in style
    code = re.sub(r"/\*.*?\*/|^\s*//.*?$", "", text, flags=re.DOTALL | re.MULTILINE)
    assert re.findall(r"\bfetch\(|XMLHttpRequest|\bimport\b|WebSocket", code) == []


def test_its_own_policy_lets_its_scripts_and_style_through_and_nothing_else(page):
    _, tree, _ = page()
    policy = tree.find(".//meta[@http-equiv]").get("content")

    def hashed(text):
        return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"

    scripts = [each for each in tree.iter("script") if each.get("type") in (None, "module")]
    assert len(scripts) == 2
    for script in scripts:
        assert hashed(script.text) in policy
    assert hashed(tree.find(".//style").text) in policy
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert [each for each in tree.iter() if each.get("style") or each.get("onclick")] == []


def test_the_script_is_the_bundle_of_the_modules_as_they_are(page):
    """Needs no Node: the bundle names the hash of the modules that it was built from."""
    folder = files("fillwright.pack.practice")
    bundle = (folder / "bundle.mjs").read_text("utf-8")
    names = sorted(each.name for each in folder.iterdir() if each.name.endswith(".mjs"))
    digest = hashlib.sha256()
    for name in names:
        if name != "bundle.mjs":
            digest.update(f"{name}\n".encode() + (folder / name).read_bytes())
    assert f"// Modules: sha256 {digest.hexdigest()}\n" in bundle, "run `npm run bundle`"
    _, tree, _ = page()
    assert tree.find(".//script[@type='module']").text == bundle


def test_every_module_that_other_pages_play_with_imports_only_such_modules():
    folder = files("fillwright.pack.practice")
    for name in PLAYER_MODULES:
        found = re.findall(
            r'^import .* from "(.*)";$', (folder / f"{name}.mjs").read_text("utf-8"), re.MULTILINE
        )
        assert set(found) <= {f"./{other}.mjs" for other in PLAYER_MODULES}


def test_grade_top_tempo_and_ladder_are_explained(page):
    _, tree, (fill, *_) = page()
    for name in ("grade", "ceiling", "ladder"):
        (button,) = tree.xpath(f"//button[@aria-describedby='about-{name}']")
        tip = tree.get_element_by_id(f"about-{name}")
        assert tip.get("role") == "tooltip"
        assert tip.getparent() is button.getparent()
        assert len(tip.text.split()) > 5
    row = data_of(tree)["fills"][0]
    assert row["grade"] == str(fill.step.route.grade)
    assert row["ceiling"] == f"{fill.ceiling} bpm"


@pytest.mark.parametrize("title", ['<script>alert("x")</script>', "Five $$ and $title", "R & L </title>"])
def test_a_teachers_words_stay_words(lesson, tones, title):
    read, fills = lesson(more=f"purpose = '{title}'\nnotes = ['{title}']")
    tree = html.fromstring(build_practice_page(read, fills, bank=tones()))
    assert tree.find_class("purpose")[0].text_content() == title
    assert title in tree.find(".//footer").text_content()


def test_json_can_stand_in_a_script():
    assert as_json({"a": "</script>é"}) == '{"a":"\\u003c/script>é"}'


def test_the_staircase_rises_with_the_grade(page):
    _, tree, fills = page(figure="five stroke roll", step="round the kit", more="per_step = 3")
    stairs = tree.find_class("stair")
    assert [stair.text for stair in stairs] == [str(fill.number) for fill in fills]
    before = fills[0].step.route.grade
    for stair, fill in zip(stairs, fills, strict=True):
        grade = fill.step.route.grade
        assert f"g{grade}" in stair.get("class").split()
        assert f"r{max(0, grade - before)}" in stair.get("class").split()
        assert stair.get("aria-label") == f"{fill.number}. {fill.title}. Grade {grade}"
        assert len(stair.findall(".//i")) == len(fill.ladder)
        before = grade


def test_long_ladders_have_narrow_marks(lesson, tones):
    read, (fill, *_) = lesson()
    assert "marks many" not in build_practice_page(read, (fill,), bank=tones())
    steep = replace(fill, ladder=(60, 62, 64, 66, 68, 70))
    assert "marks many" in build_practice_page(read, (steep,), bank=tones())


def test_what_a_lesson_has_not_said_is_not_there(page):
    _, tree, _ = page()
    assert tree.find_class("purpose") == []
    assert "Notes for you" not in tree.find(".//footer").text_content()


def test_advice_and_cautions_are_those_of_the_handout(page):
    _, tree, _ = page()
    footer = tree.find(".//footer").text_content()
    assert "hearing protection" in footer
    assert "Learn each fill from both leads" in footer


def test_data_of_a_fill(page):
    _, tree, (fill, *_) = page(step="last two beats")
    data = data_of(tree)
    row = data["fills"][0]
    assert (row["slug"], row["caption"], row["ladder"]) == (fill.slug, fill.caption, [60, 90])
    assert (row["bar"], row["unit"], row["body"], row["span"]) == (1, 0.25, 2, [1.5, 2])
    assert row["beats"] == row["counted"] == [0, 0.25, 0.5, 0.75]
    assert row["plan"] == ""
    names = data["rules"]["names"]
    assert set(names) == set(data["packed"]["sounds"])
    assert names[row["strokes"][0][3]] in ("hi-hat", "kick")


def test_bars_of_two_beats_are_counted_in_eighths(page):
    _, tree, _ = page(groove="march", step="last beat")
    assert data_of(tree)["fills"][0]["counted"] == [0, 0.125, 0.25, 0.375]


def test_a_plan_is_drawn_in_the_pages_own_inks(page):
    _, tree, _ = page(step="round the kit")
    plan = data_of(tree)["fills"][0]["plan"]
    assert plan.startswith("<svg")
    assert re.findall(r"#[0-9a-f]{6}", plan) == []
    assert "var(--ink)" in plan


def test_each_lesson_is_remembered_under_its_own_name(lesson):
    read, _ = lesson()
    assert make_lesson_id(read) == "fillwright/kitchen-table-fills/3/small"


def test_the_bank_that_was_asked_for_is_played(lesson, tones):
    read, fills = lesson()
    bank = tones()
    made = gather_page_data(read, fills, bank)
    assert {name for name, *_ in bank.asked} == set(made.table["packed"]["sounds"])


def test_what_a_bank_chokes_beside_the_rest_is_told(lesson, tones):
    class Choking(tones):
        choked_by: ClassVar = {"crash": frozenset({"crash", "rim"})}

    read, fills = lesson()
    assert gather_page_data(read, fills, Choking()).table["rules"]["chokes"] == {"crash": ["crash", "rim"]}


def test_the_same_page_twice(lesson, tones):
    read, fills = lesson()
    assert build_practice_page(read, fills, bank=tones()) == build_practice_page(read, fills, bank=tones())
