"""The commands around the studio: serve, backup, restore, book."""

from __future__ import annotations

import json
import zipfile

import pytest

from fillwright.cli.main import main
from fillwright.store.database import open_store
from fillwright.store.desk import only_teacher, reading, writing
from fillwright.store.lessons import add_lesson, add_series, all_series
from fillwright.studio import serve

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
    with writing(store, only_teacher(store)) as desk:
        add_lesson(desk, add_series(desk, "Shed"), LESSON.format(number=1))
    store.close()
    return made


def titles(folder):
    store = open_store(folder / "studio.db")
    with reading(store, only_teacher(store)) as desk:
        found = [series.title for series in all_series(desk)]
    store.close()
    return found


def test_a_backup_goes_into_another_studio(folder, tmp_path, capsys):
    file = tmp_path / "all.zip"
    assert main(["backup", "-o", str(file), "--folder", str(folder)]) == 0
    told = capsys.readouterr().out
    assert told.startswith(f"{file}: ")
    assert told.endswith("0 takes among them.\n")
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


def test_a_backup_that_can_not_be_written_is_one_sentence(folder, tmp_path, capsys):
    where = tmp_path / "missing" / "folder" / "all.zip"
    (tmp_path / "missing").write_text("a file")
    assert main(["backup", "-o", str(where), "--folder", str(folder)]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.fixture
def served(monkeypatch):
    """What would have been served: the setup, host and port."""
    calls = []

    def stand_in(setup, *, host, port):
        calls.append((setup, host, port))
        setup.store.close()

    monkeypatch.setattr(serve, "serve", stand_in)
    return calls


def test_the_studio_answers_this_machine_only(served, tmp_path, capsys):
    assert main(["serve", "--folder", str(tmp_path / "new"), "--port", "9000"]) == 0
    ((setup, host, port),) = served
    assert (host, port, setup.school, setup.secure) == ("127.0.0.1", 9000, False, False)
    assert setup.hosts == {"localhost", "127.0.0.1", "[::1]"}
    assert capsys.readouterr().out == "The studio is open at http://localhost:9000/  (Ctrl+C closes it)\n"
    assert (tmp_path / "new" / "studio.db").is_file()


def test_a_school_tells_its_first_link_and_answers_to_more_names(served, tmp_path, capsys):
    words = ["serve", "--folder", str(tmp_path), "--school", "--host", "Drums.Example", "--https"]
    assert main(words) == 0
    ((setup, host, _),) = served
    assert (host, setup.school, setup.secure) == ("0.0.0.0", True, True)
    assert "drums.example" in setup.hosts
    link = capsys.readouterr().out.splitlines()[1]
    assert "first teacher begins at http://localhost:8371/invitation/" in link


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["--port", "0"], "0 is no port; it lies between 1 and 65535."),
        (["--port", "65536"], "65536 is no port"),
        (["--port", "x"], "invalid int value"),
        (["--host", "drums.example"], "Without --school there are no accounts"),
    ],
)
def test_what_can_not_be_served_is_told_and_nothing_is_made(served, tmp_path, capsys, words, why):
    assert main(["serve", "--folder", str(tmp_path / "new"), *words]) == 2
    assert why in capsys.readouterr().err
    assert served == []
    assert not (tmp_path / "new").exists()


def test_a_folder_that_can_not_be_made_is_one_sentence(served, tmp_path, capsys):
    (tmp_path / "file").write_text("")
    assert main(["serve", "--quiet", "--folder", str(tmp_path / "file" / "in")]) == 2
    assert "can't be written" in capsys.readouterr().err
    assert served == []


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
