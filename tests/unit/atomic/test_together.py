from pathlib import Path

import pytest

from fillwright.atomic import exchange, write_together
from fillwright.errors import OutputError

FILES = {"one": b"new one", "two": b"new two"}


def read_folder(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_new_folder(tmp_path):
    write_together(tmp_path / "a" / "b", FILES)
    assert read_folder(tmp_path / "a" / "b") == FILES


def test_an_old_folder_keeps_what_is_not_ours(tmp_path):
    (tmp_path / "two").write_bytes(b"old")
    (tmp_path / "mine").write_bytes(b"mine")
    write_together(tmp_path, FILES)
    assert read_folder(tmp_path) == {**FILES, "mine": b"mine"}


@pytest.fixture(params=["little else", "a folder"])
def folder(request, tmp_path):
    """A folder that is exchanged whole, and one in which the files are moved one by one."""
    (tmp_path / "here").mkdir()
    if request.param == "a folder":
        (tmp_path / "here" / "pack").mkdir()
        (tmp_path / "here" / "pack" / "mine").write_bytes(b"mine")
    return tmp_path / "here"


def read_files(folder):
    return {name: content for name, content in read_tree(folder).items() if not name.startswith("pack")}


def read_tree(folder):
    """Every file, hidden ones too."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


def fail_at(monkeypatch, step):
    """Let the file system fail at one of the renames and links."""
    done = []

    def wrap(work):
        def failing(*args, **named):
            done.append(None)
            if len(done) == step:
                raise OSError(28, "No space left on device")
            return work(*args, **named)

        return failing

    for owner, name in ((Path, "rename"), (Path, "replace"), (exchange, "_swap_names")):
        monkeypatch.setattr(owner, name, wrap(getattr(owner, name)))
    return done


@pytest.mark.parametrize("step", range(1, 6))
@pytest.mark.parametrize("old", [{}, {"one": b"old one", "two": b"old two"}])
def test_a_failure_leaves_what_was_there(folder, monkeypatch, step, old):
    for name, content in old.items():
        (folder / name).write_bytes(content)
    with monkeypatch.context() as patch:
        done = fail_at(patch, step)
        failure = ""
        try:
            write_together(folder, FILES)
        except OutputError as error:
            failure = str(error)
    assert "the disk is full" in failure if step == 1 else not failure or "the disk is full" in failure
    assert read_files(folder) == (old if failure else FILES)
    assert len(done) >= step or not failure


def test_a_large_folder_keeps_what_is_not_ours(tmp_path):
    for number in range(150):
        (tmp_path / str(number)).write_bytes(b"mine")
    write_together(tmp_path, FILES)
    write_together(tmp_path, FILES)
    assert read_folder(tmp_path) == FILES | {str(number): b"mine" for number in range(150)}


def test_a_file_in_its_place(tmp_path):
    (tmp_path / "report").write_bytes(b"mine")
    with pytest.raises(OutputError, match=r"is a file\. Name a folder for the report"):
        write_together(tmp_path / "report", FILES)
    assert read_folder(tmp_path) == {"report": b"mine"}
