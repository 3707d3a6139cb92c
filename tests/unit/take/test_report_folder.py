from pathlib import Path

import pytest

from fillwright.errors import OutputError
from fillwright.take.report_folder import write_together

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


def test_a_failure_leaves_what_was_there(tmp_path, monkeypatch):
    (tmp_path / "one").write_bytes(b"old one")
    (tmp_path / "two").write_bytes(b"old two")
    rename = Path.rename

    def failing(self, target):
        if self.name == "two" and Path(target).parent == tmp_path:
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(OutputError, match="no space left on device"):
        write_together(tmp_path, FILES)
    assert read_folder(tmp_path) == {"one": b"old one", "two": b"old two"}


def test_a_failure_in_a_folder_without_them_leaves_none(tmp_path, monkeypatch):
    rename = Path.rename

    def failing(self, target):
        if self.name == "two":
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(OutputError, match="no space left on device"):
        write_together(tmp_path, FILES)
    assert read_folder(tmp_path) == {}


def test_a_file_in_its_place(tmp_path):
    (tmp_path / "report").write_bytes(b"mine")
    with pytest.raises(OutputError, match=r"is a file\. Name a folder for the report"):
        write_together(tmp_path / "report", FILES)
    assert read_folder(tmp_path) == {"report": b"mine"}
