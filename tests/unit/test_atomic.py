import errno
import os
from pathlib import Path

import pytest

from fillwright.atomic import write_folder, write_file
from fillwright.errors import OutputError

ROOT = os.name == "nt" or os.geteuid() == 0
"""Whether closed folders stand open to whoever runs the tests."""


def tree(folder):
    """Everything below a folder, hidden files too, with its content."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


def write(folder, **files):
    for name, content in files.items():
        (folder / name).write_text(content)


def full_disk(*_args, **_named):
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


class TestFile:
    def test_a_new_file_has_its_content(self, tmp_path):
        write_file(tmp_path / "a.txt", b"new")
        assert tree(tmp_path) == {"a.txt": b"new"}

    def test_an_old_file_is_replaced(self, tmp_path):
        write(tmp_path, a="old")
        write_file(tmp_path / "a", b"new")
        assert tree(tmp_path) == {"a": b"new"}

    def test_a_full_disk_leaves_the_old_file(self, tmp_path, monkeypatch):
        write(tmp_path, a="old")

        def half(path, content):
            with path.open("wb") as file:
                file.write(content[:1])
            full_disk()

        monkeypatch.setattr(Path, "write_bytes", half)
        with pytest.raises(OutputError, match=r'/a" can\'t be written: no space left on device\.$'):
            write_file(tmp_path / "a", b"new")
        assert tree(tmp_path) == {"a": b"old"}

    def test_an_interrupt_leaves_nothing_beside_the_old_file(self, tmp_path, monkeypatch):
        write(tmp_path, a="old")

        def interrupted(_path, _target):
            raise KeyboardInterrupt

        monkeypatch.setattr(Path, "replace", interrupted)
        with pytest.raises(KeyboardInterrupt):
            write_file(tmp_path / "a", b"new")
        assert tree(tmp_path) == {"a": b"old"}

    @pytest.mark.parametrize(
        ("name", "words"),
        [
            ("folder", "is a folder; give the name of a file."),
            ("missing/a", "there is no folder"),
            ("file/a", "there is no folder"),
            ("x" * 256, "can't be written: file name too long."),
        ],
    )
    def test_a_place_that_can_not_be_is_told(self, tmp_path, name, words):
        (tmp_path / "folder").mkdir()
        write(tmp_path, file="kept")
        before = tree(tmp_path)
        with pytest.raises(OutputError) as caught:
            write_file(tmp_path / name, b"new")
        assert words in str(caught.value)
        assert tree(tmp_path) == before

    def test_a_name_as_long_as_names_can_be(self, tmp_path):
        write_file(tmp_path / ("x" * 255), b"new")
        assert tree(tmp_path) == {"x" * 255: b"new"}


class TestFolder:
    def test_a_new_folder_appears_when_it_is_done(self, tmp_path):
        place = tmp_path / "deep" / "down" / "pack"
        with write_folder(place) as new:
            write(new, a="1")
            assert not place.exists()
        assert tree(tmp_path / "deep") == {"down": None, "down/pack": None, "down/pack/a": b"1"}

    def test_an_old_folder_is_exchanged(self, tmp_path):
        place = tmp_path / "pack"
        place.mkdir()
        write(place, a="old", b="old")
        with write_folder(place) as new:
            write(new, b="new", c="new")
            assert tree(place) == {"a": b"old", "b": b"old"}
        assert tree(tmp_path) == {"pack": None, "pack/b": b"new", "pack/c": b"new"}

    def test_the_folder_that_one_stands_in_stays(self, tmp_path, monkeypatch):
        place = tmp_path / "pack"
        place.mkdir()
        place.chmod(0o700)
        write(place, a="old")
        monkeypatch.chdir(place)
        with write_folder(place) as new:
            write(new, a="new")
        assert os.listdir() == ["a"]
        assert Path("a").read_text() == "new"
        assert place.stat().st_mode & 0o777 == 0o700

    @pytest.mark.parametrize("error", [ValueError("broken"), KeyboardInterrupt(), MemoryError()])
    def test_a_failure_while_filling_leaves_everything_as_it_was(self, tmp_path, error):
        place = tmp_path / "pack"
        place.mkdir()
        write(place, a="old")

        def fill():
            with write_folder(place) as new:
                write(new, a="new")
                raise error

        with pytest.raises(type(error)):
            fill()
        assert tree(tmp_path) == {"pack": None, "pack/a": b"old"}

    @pytest.mark.parametrize("after", range(6))
    @pytest.mark.parametrize("error", [OSError(errno.EIO, "broken disk"), KeyboardInterrupt()])
    def test_a_failure_in_the_middle_of_the_exchange_is_undone(self, tmp_path, monkeypatch, error, after):
        place = tmp_path / "pack"
        place.mkdir()
        write(place, a="old", b="old", c="old")
        rename, done = Path.rename, []

        def failing(path, target):
            if len(done) == after:
                done.append(None)
                raise error
            done.append(path)
            return rename(path, target)

        monkeypatch.setattr(Path, "rename", failing)
        wanted = OutputError if isinstance(error, OSError) else KeyboardInterrupt
        with pytest.raises(wanted), write_folder(place) as new:
            write(new, b="new", c="new", d="new")
        assert len(done) > after
        assert tree(tmp_path) == {"pack": None, "pack/a": b"old", "pack/b": b"old", "pack/c": b"old"}

    def test_a_failure_takes_back_the_parents_it_made(self, tmp_path):
        def fill():
            with write_folder(tmp_path / "deep" / "down" / "pack") as new:
                write(new, a="1")
                full_disk()

        with pytest.raises(OutputError, match="no space left on device"):
            fill()
        assert tree(tmp_path) == {}

    @pytest.mark.parametrize(
        ("name", "words"),
        [
            ("file", 'file" is a file; give the name of a folder for the pack.'),
            ("file/pack", 'file" is a file, not a folder.'),
            ("file/deeper/pack", 'file" is a file, not a folder.'),
            ("x" * 256, "can't be written: file name too long."),
        ],
    )
    def test_a_place_that_can_not_be_is_told(self, tmp_path, name, words):
        write(tmp_path, file="kept")
        with pytest.raises(OutputError) as caught, write_folder(tmp_path / name):
            pytest.fail("nothing should be filled")
        assert str(caught.value).endswith(words)
        assert tree(tmp_path) == {"file": b"kept"}

    def test_a_name_as_long_as_names_can_be(self, tmp_path):
        place = tmp_path / ("x" * 255)
        for content in ("1", "2"):
            with write_folder(place) as new:
                write(new, a=content)
        assert tree(tmp_path) == {place.name: None, f"{place.name}/a": b"2"}

    @pytest.mark.skipif(ROOT, reason="whoever runs this may write everywhere")
    def test_a_closed_parent_is_told(self, tmp_path):
        tmp_path.chmod(0o500)
        with pytest.raises(OutputError, match="permission denied"), write_folder(tmp_path / "pack"):
            pytest.fail("nothing should be filled")

    def test_a_read_only_disk_is_told(self, tmp_path, monkeypatch):
        def read_only(*_args, **_named):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))

        monkeypatch.setattr("tempfile.mkdtemp", read_only)
        with pytest.raises(OutputError, match="read-only file system"), write_folder(tmp_path / "pack"):
            pytest.fail("nothing should be filled")
        assert tree(tmp_path) == {}
