import io

import pytest
import soundfile

from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.pack import contents as parts
from fillwright.pack.contents import Engravings, list_recipes, name_files

TEXT = """number = 3
title = "Small"
series = "Kitchen Table Fills"
teacher = "Teodora Quillfeather"
purpose = "One."
tempo = [100, 120]
bars = 1
audio = "flac"

[[figure]]
name = "single paradiddle"
steps = ["last beat", "whole bar"]
"""


def keys(text, copy=""):
    """The key of every path."""
    lesson = parse_lesson(text)
    return {
        path: made.key for made in list_recipes(lesson, build_fills(lesson).fills, copy) for path in made.paths
    }


def changed(old, new):
    """Kinds of file that an edit makes anew, of those that stay."""
    before, after = keys(TEXT), keys(TEXT.replace(old, new))
    assert TEXT.replace(old, new) != TEXT
    return {path.rsplit(".", 1)[-1] for path in before.keys() & after.keys() if before[path] != after[path]}


SOUND, PAPER, PAGES, LIST = {"flac"}, {"svg", "pdf", "png"}, {"pdf", "txt", "html"}, {"json"}


@pytest.mark.parametrize(
    ("old", "new", "kinds"),
    [
        ('"One."', '"Two."', PAGES),
        ("number = 3", "number = 4", PAGES | SOUND),  # files carry number and series as their album
        ("Quillfeather", "Quill", PAGES | SOUND),
        ("bars = 1", 'bars = 1\npage = "letter"', PAGES | PAPER | LIST | {"musicxml"}),
        ("bars = 1", "bars = 1\ncounting = false", PAGES | PAPER | LIST | {"musicxml"}),
        ("bars = 1", "bars = 1\nclick = false", PAGES | SOUND),
        ("bars = 1", "bars = 1\ncount_in = 2", PAGES | SOUND),
        ("bars = 1", "bars = 1\nswing = 0.6", LIST | PAGES | SOUND | PAPER | {"mid", "musicxml"}),
        ("bars = 1", "bars = 1\nflam_ms = 30", LIST | PAGES | SOUND | {"mid"}),
        ("bars = 1", "bars = 2", LIST | PAGES | SOUND | PAPER | {"mid", "musicxml"}),
        ("bars = 1", 'bars = 1\nlanding = ["china"]', LIST | PAGES | SOUND | PAPER | {"mid", "musicxml"}),
        ("bars = 1", 'bars = 1\nhand = "left"', LIST | PAGES | SOUND | PAPER | {"mid", "musicxml"}),
        ("[100, 120]", "[90, 120]", LIST | PAGES | PAPER | {"mid", "musicxml"}),
        ("bars = 1", 'bars = 1\nlevel = "gigging"', PAGES),
    ],
)
def test_an_edit_makes_anew_what_depends_on_it(old, new, kinds):
    assert changed(old, new) == kinds


def test_the_copy_of_the_lesson_file_depends_on_its_text_alone():
    one, two = keys(TEXT, "a"), keys(TEXT, "b")
    assert {path for path in one if one[path] != two[path]} == {"lesson.toml"}


def test_every_path_of_a_fill_has_a_recipe_of_its_own():
    lesson = parse_lesson(TEXT)
    fills = build_fills(lesson).fills
    made = [path for recipe in list_recipes(lesson, fills, "") for path in recipe.paths]
    named = [path for fill in fills for path in name_files(lesson, fill).values()]
    assert len(set(made)) == len(made)
    assert sorted(made) == sorted(
        [*named, "handout.pdf", "practice.html", "run-sheet.pdf", "chapters.txt", "lesson.toml", "fills.json"]
    )


def test_a_recipe_makes_one_content_for_each_path():
    lesson = parse_lesson(TEXT)
    for recipe in list_recipes(lesson, build_fills(lesson).fills, "text"):
        made = recipe.make()
        assert len(made) == len(recipe.paths)
        assert all(made)
        assert recipe.heavy == recipe.paths[0].endswith(".flac")


def test_a_fill_is_engraved_once_for_handout_and_pictures(monkeypatch):
    lesson = parse_lesson(TEXT)
    fills = build_fills(lesson).fills
    engraved = []

    def counted(sheet, *, width_mm):
        engraved.append(width_mm)
        return real(sheet, width_mm=width_mm)

    real = parts.engrave
    monkeypatch.setattr(parts, "engrave", counted)
    for recipe in list_recipes(lesson, fills, "text"):
        if not recipe.heavy:
            recipe.make()
    assert engraved == [174.0] * len(fills)


def test_engravings_are_those_of_the_fills():
    lesson = parse_lesson(TEXT)
    engravings = Engravings(lesson, build_fills(lesson).fills)
    assert (list(engravings), len(engravings)) == ([1, 2], 2)
    assert engravings[1] is engravings[1]
    assert engravings[1].svg != engravings[2].svg


def test_players_sort_the_sound_of_a_pack_by_fill_and_tempo():
    lesson = parse_lesson(TEXT)
    heavy = [recipe for recipe in list_recipes(lesson, build_fills(lesson).fills, "") if recipe.heavy]
    shown = []
    for recipe in heavy:
        with soundfile.SoundFile(io.BytesIO(recipe.make()[0])) as file:
            shown.append((int(file.tracknumber), file.comment))
    tracks = [track for track, _ in shown]
    assert tracks == sorted(set(tracks)) == [101, 102, 201, 202]
    assert shown[1][1].startswith("120 beats a minute, 4/4, ")


def test_the_count_in_of_a_lesson_is_heard():
    def seconds(line: str) -> float:
        lesson = parse_lesson(TEXT.replace("bars = 1", f"bars = 1\n{line}"))
        (first, *_) = (one for one in list_recipes(lesson, build_fills(lesson).fills, "") if one.heavy)
        return soundfile.info(io.BytesIO(first.make()[0])).duration

    assert seconds("count_in = 2") - seconds("count_in = 1") == pytest.approx(4 * 60 / 100, abs=0.01)
