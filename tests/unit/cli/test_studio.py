"""The commands around the studio: backup, restore, book."""

from __future__ import annotations

import json
import zipfile

import pytest

from fillwright.cli.main import main
from fillwright.store.database import open_store
from fillwright.store.lessons import add_lesson, add_series, list_series
from fillwright.store.transaction import begin_reading, begin_writing, ensure_teacher

LESSON = """number = {number}
title = "Lesson {number}"
series = "Shed"
bars = 1

[[figure]]
name = "single paradiddle"
steps = ["last beat"]
"""


@pytest.fixture
def folder(tmp_path):
    """A studio's folder with a series in it."""
    made = tmp_path / "studio"
    made.mkdir()
    store = open_store(made / "studio.db")
    with begin_writing(store, ensure_teacher(store)) as transaction:
        add_lesson(transaction, add_series(transaction, "Shed"), LESSON.format(number=1))
    store.close()
    return made


def titles(folder):
    store = open_store(folder / "studio.db")
    with begin_reading(store, ensure_teacher(store)) as transaction:
        found = [series.title for series in list_series(transaction)]
    store.close()
    return found


def test_a_backup_goes_into_another_studio(folder, tmp_path, capsys):
    file = tmp_path / "all.zip"
    assert main(["backup", "-o", str(file), "--folder", str(folder)]) == 0
    told = capsys.readouterr().out
    assert told.startswith(f"{file}: ")
    assert told.endswith(" and no takes.\n")
    other = tmp_path / "other"
    assert main(["restore", str(file), "--folder", str(other)]) == 0
    assert capsys.readouterr().out.startswith("Restored ")
    assert titles(other) == ["Shed"]


def test_a_store_with_something_in_it_is_replaced_only_when_asked(folder, tmp_path, capsys):
    file = tmp_path / "all.zip"
    assert main(["backup", "-o", str(file), "--folder", str(folder), "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["rows"]
    assert rows["series"] == rows["lesson"] == 1
    assert main(["restore", str(file), "--folder", str(folder)]) == 2
    assert "not empty" in capsys.readouterr().err
    assert main(["restore", str(file), "--folder", str(folder), "--replace", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"rows": rows}
    assert titles(folder) == ["Shed"]


def test_a_file_that_is_no_backup_leaves_everything_as_it_was(folder, tmp_path, capsys):
    broken = tmp_path / "broken.zip"
    broken.write_bytes(b"no zip")
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as archive:
        archive.writestr("x", "")
    for name in ("broken.zip", "other.zip", "missing.zip"):
        where = ["--folder", str(folder), "--replace", "--quiet"]
        assert main(["restore", str(tmp_path / name), *where]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert err.count("\n") == 1
    assert titles(folder) == ["Shed"]


def test_a_folder_without_a_studio_is_told_and_stays_as_it_was(tmp_path, capsys):
    missing = tmp_path / "nothere"
    assert main(["backup", "-o", str(tmp_path / "all.zip"), "--folder", str(missing)]) == 2
    assert capsys.readouterr().err == f'There is no studio in "{missing}"; set its folder with --folder.\n'
    (tmp_path / "junk.zip").write_bytes(b"junk")
    assert main(["restore", str(tmp_path / "junk.zip"), "--folder", str(missing)]) == 2
    assert sorted(path.name for path in tmp_path.iterdir()) == ["junk.zip"]


def test_a_backup_that_can_not_be_written_is_one_sentence(folder, tmp_path, capsys):
    where = tmp_path / "missing" / "folder" / "all.zip"
    (tmp_path / "missing").write_text("a file")
    assert main(["backup", "-o", str(where), "--folder", str(folder)]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.fixture
def lessons(tmp_path):
    paths = []
    for number in (2, 1):
        paths.append(tmp_path / f"{number}.toml")
        paths[-1].write_text(LESSON.format(number=number))
    return [str(path) for path in paths]


def test_a_book_is_set_in_the_order_of_its_numbers(lessons, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("os.cpu_count", lambda: 1)
    target = tmp_path / "book.pdf"
    assert main(["book", *lessons, "--title", "Mine", "-o", str(target), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told == {"file": str(target), "lessons": 2, "bytes": target.stat().st_size}
    assert main(["book", *reversed(lessons), "--title", "Mine", "-o", str(tmp_path / "b.pdf")]) == 0
    assert capsys.readouterr().out.startswith(f"{tmp_path / 'b.pdf'}: 2 lessons, ")
    assert (tmp_path / "b.pdf").read_bytes() == target.read_bytes()


def test_a_mistake_in_a_lesson_leaves_the_earlier_book(lessons, tmp_path, capsys):
    target = tmp_path / "book.pdf"
    target.write_text("earlier")
    (tmp_path / "1.toml").write_text("number = 1")
    assert main(["book", *lessons, "-o", str(target)]) == 2
    assert capsys.readouterr().err.startswith("1.toml, line 1")
    assert target.read_text() == "earlier"
