"""A pack whose build is killed -9 before each of its steps: the old or the new pack is there whole."""

import os
import shutil
from itertools import count

import pytest

from fillwright.atomic import exchange
from fillwright.lesson.file import parse_lesson
from fillwright.pack import build as build_module
from fillwright.pack.build import build_pack
from fillwright.pack.recipes import hash_program
from tests.kills import run_to_step

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")

OLD = """number = 1
title = "Small"
tempo = [120]
bars = 1
audio = "ogg"

[[figure]]
name = "single paradiddle"
steps = ["last beat"]
"""
NEW = OLD.replace("[120]", "[110]").replace("Small", "Smaller")
MINE = {"notes.txt": b"mine", "fills/01-single-paradiddle-last-beat/notes.txt": b"mine", "own/a.txt": b"mine"}


def read_tree(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


@pytest.fixture
def packs(tmp_path, monkeypatch):
    """The old and the new pack, built once; after that every build takes its files from them."""
    program = hash_program()  # the sources may be edited while the tests run
    monkeypatch.setattr("fillwright.pack.recipes.hash_program", lambda: program)
    for name, text in (("old", OLD), ("new", NEW)):
        build_pack(parse_lesson(text), text, tmp_path / name)
    ready = read_tree(tmp_path / "new")

    def make_all(fresh):
        for recipe in fresh:
            yield recipe, tuple(ready[path] for path in recipe.paths)

    monkeypatch.setattr(build_module, "_make_all", make_all)
    monkeypatch.setattr(os, "fsync", lambda _handle: None)  # a kill takes nothing from the system's memory
    for name, content in MINE.items():
        (tmp_path / "old" / name).parent.mkdir(exist_ok=True)
        (tmp_path / "old" / name).write_bytes(content)
    return read_tree(tmp_path / "old"), ready | MINE


def test_it_is_the_old_or_the_new_pack_and_a_rerun_works(packs, tmp_path):
    if exchange._load_call() is None:
        pytest.skip("needs Linux or macOS")
    old, new = packs
    assert old.keys() != new.keys()
    place = tmp_path / "here" / "pack"
    lesson = parse_lesson(NEW)
    for step in count(1):
        shutil.rmtree(place.parent, ignore_errors=True)
        shutil.copytree(tmp_path / "old", place, copy_function=os.link)
        killed = run_to_step(lambda: build_pack(lesson, NEW, place), step)
        assert read_tree(place) in (old, new), step
        if step % 5 == 0 or not killed:
            build_pack(lesson, NEW, place)
            assert read_tree(place) == new
            assert os.listdir(place.parent) == ["pack"]
        if not killed:
            break
    assert step > 60
