"""Writing that is killed -9 before each of its steps: the old or the new is there whole, and a rerun works."""

import os
import shutil
from itertools import count

import pytest

from fillwright.atomic import exchange, write_file, write_folder, write_together
from fillwright.atomic.exchange import recover_folder
from tests.kills import run_to_step

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")

OLD = {"a": b"old", "deep/b": b"old", "deep/er/c": b"same"}
NEW = {"deep/b": b"new", "deep/er/c": b"same", "other/d": b"new"}
MINE = {"notes.txt": b"mine", "deep/notes.txt": b"mine", "own/picture": b"mine"}


def read_tree(folder):
    """Every file below a folder with its content; hidden names at its top start with a dot."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


def fill(folder, files):
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)


def list_hidden(folder):
    return [path.name for path in folder.iterdir() if path.name.startswith(".")]


@pytest.fixture(autouse=True)
def do_not_wait(monkeypatch):
    """A kill takes nothing from the system's memory, so these tests need not wait for the disk."""
    monkeypatch.setattr(os, "fsync", lambda _handle: None)


@pytest.fixture
def one_step():
    """A system that exchanges two folders in one step."""
    if exchange._load_call() is None:
        pytest.skip("needs Linux or macOS")


def build(place):
    with write_folder(place, keep=lambda name: name in MINE) as new:
        fill(new, NEW)


def walk_steps(start, work, check, least):
    """Kill work before its first step, its second, and so on, each time from the start, until it ends well."""
    for step in count(1):
        start()
        killed = run_to_step(work, step)
        check(step)
        if not killed:
            break
    assert step > least


@pytest.mark.usefixtures("one_step")
def test_a_folder_is_the_old_or_the_new_one(tmp_path):
    place = tmp_path / "pack"
    seen = []

    def start():
        shutil.rmtree(place, ignore_errors=True)
        fill(place, OLD | MINE)

    def check(_step):
        found = read_tree(place)
        assert found in (OLD | MINE, NEW | MINE)
        seen.append(found == NEW | MINE)
        build(place)
        assert read_tree(place) == NEW | MINE
        assert list_hidden(tmp_path) == []

    walk_steps(start, lambda: build(place), check, 40)
    assert seen == sorted(seen)  # once it is the new one, it stays so
    assert not seen[0]


def test_a_new_folder_is_there_whole_or_not_at_all(tmp_path):
    place = tmp_path / "deep" / "pack"

    def check(_step):
        assert not place.exists() or read_tree(place) == NEW
        build(place)
        assert read_tree(place) == NEW
        assert list_hidden(place.parent) == []

    walk_steps(lambda: shutil.rmtree(tmp_path / "deep", ignore_errors=True), lambda: build(place), check, 15)


def test_without_an_exchange_the_next_start_undoes(tmp_path, monkeypatch):
    monkeypatch.setattr(exchange, "_load_call", lambda: None)
    place = tmp_path / "pack"
    missing = []

    def start():
        shutil.rmtree(place, ignore_errors=True)
        fill(place, OLD | MINE)

    def check(_step):
        missing.append(not place.exists())
        recover_folder(place)
        assert read_tree(place) in (OLD | MINE, NEW | MINE)
        build(place)
        assert read_tree(place) == NEW | MINE
        assert list_hidden(tmp_path) == []

    walk_steps(start, lambda: build(place), check, 40)
    assert any(missing)  # else this test would not have met the case it is for


def test_a_file_is_the_old_or_the_new_one(tmp_path):
    place = tmp_path / "a"

    def check(_step):
        assert place.read_bytes() in (b"old", b"new")
        write_file(place, b"new")
        assert read_tree(tmp_path) == {"a": b"new"}

    walk_steps(lambda: place.write_bytes(b"old"), lambda: write_file(place, b"new"), check, 4)


REPORT = {"report.json": b"new", "report.pdf": b"new", "report.svg": b"new"}
EARLIER = dict.fromkeys(REPORT, b"old")


@pytest.mark.usefixtures("one_step")
def test_a_report_is_the_old_or_the_new_one(tmp_path):
    folder = tmp_path / "report"
    mine = {"notes.txt": b"mine"}

    def check(_step):
        assert read_tree(folder) in (EARLIER | mine, REPORT | mine)
        write_together(folder, REPORT)
        assert read_tree(folder) == REPORT | mine
        assert list_hidden(tmp_path) == []

    walk_steps(lambda: fill(folder, EARLIER | mine), lambda: write_together(folder, REPORT), check, 20)


def test_a_report_among_folders_is_finished_by_the_next(tmp_path):
    folder = tmp_path / "course"
    mine = {"notes.txt": b"mine", "pack/handout.pdf": b"mine"}

    def check(_step):
        found = read_tree(folder)
        assert mine.items() <= found.items()
        assert all(found[name] in (b"old", b"new") for name in REPORT if name in found)
        write_together(folder, REPORT)
        assert read_tree(folder) == REPORT | mine

    walk_steps(lambda: fill(folder, EARLIER | mine), lambda: write_together(folder, REPORT), check, 20)
