import errno
import os
from pathlib import Path

import pytest

from fillwright.atomic import exchange, leftovers, locks, write_folder
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


@pytest.fixture(params=["one step", "three renames"])
def way(request, monkeypatch):
    """Both ways of exchanging folders."""
    if request.param == "three renames":
        monkeypatch.setattr(exchange, "_load_call", lambda: None)
    return request.param


class TestFolder:
    def test_a_new_folder_appears_when_it_is_done(self, tmp_path):
        place = tmp_path / "deep" / "down" / "pack"
        with write_folder(place) as new:
            write(new, a="1")
            assert not place.exists()
        assert tree(tmp_path / "deep") == {"down": None, "down/pack": None, "down/pack/a": b"1"}

    @pytest.mark.usefixtures("way")
    def test_an_old_folder_is_exchanged(self, tmp_path):
        place = tmp_path / "pack"
        place.mkdir()
        write(place, a="old", b="old")
        with write_folder(place) as new:
            write(new, b="new", c="new")
            assert tree(place) == {"a": b"old", "b": b"old"}
        assert tree(tmp_path) == {"pack": None, "pack/b": b"new", "pack/c": b"new"}

    @pytest.mark.usefixtures("way")
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

    @pytest.mark.parametrize("error", [OSError(errno.EIO, "broken disk"), KeyboardInterrupt()])
    @pytest.mark.parametrize("step", ["copymode", "exchange_folders", "flush_tree", "_carry_files"])
    def test_a_failure_before_the_exchange_changes_nothing(self, tmp_path, monkeypatch, error, step):
        place = tmp_path / "pack"
        place.mkdir()
        write(place, a="old", b="old")

        def failing(*_args, **_named):
            raise error

        where = "shutil" if step == "copymode" else "fillwright.atomic.folders"
        monkeypatch.setattr(f"{where}.{step}", failing)
        wanted = OutputError if isinstance(error, OSError) else KeyboardInterrupt
        with pytest.raises(wanted), write_folder(place) as new:
            write(new, b="new", c="new")
        assert tree(tmp_path) == {"pack": None, "pack/a": b"old", "pack/b": b"old"}

    @pytest.mark.parametrize("after", range(4))
    def test_a_failing_rename_is_undone_where_three_are_needed(self, tmp_path, monkeypatch, after):
        place = tmp_path / "pack"
        place.mkdir()
        write(place, a="old")
        monkeypatch.setattr(exchange, "_load_call", lambda: None)
        rename, done = Path.rename, []

        def failing(path, target):
            done.append(path)
            if len(done) == after + 1:
                raise OSError(errno.EIO, "broken disk")
            return rename(path, target)

        monkeypatch.setattr(Path, "rename", failing)
        try:
            with write_folder(place) as new:
                write(new, b="new")
        except OutputError:
            pass
        monkeypatch.setattr(Path, "rename", rename)
        exchange.recover_folder(place)
        assert tree(place) in ({"a": b"old"}, {"b": b"new"})
        if after < 2:
            assert tree(place) == {"a": b"old"}

    @pytest.mark.usefixtures("way")
    def test_files_that_come_during_the_build_stay(self, tmp_path):
        place = tmp_path / "pack"
        (place / "notes").mkdir(parents=True)
        write(place, a="old", mine="before")
        with write_folder(place, keep=lambda name: name != "a") as new:
            write(place, mine="after", late="late")
            (place / "notes" / "deep.txt").write_text("deep")
            write(new, b="new")
        assert tree(tmp_path) == {
            "pack": None,
            "pack/b": b"new",
            "pack/late": b"late",
            "pack/mine": b"after",
            "pack/notes": None,
            "pack/notes/deep.txt": b"deep",
        }

    def test_a_file_that_comes_at_the_last_moment_stays(self, tmp_path, monkeypatch):
        place = tmp_path / "pack"
        place.mkdir()
        write(place, a="old")
        swap = exchange.exchange_folders

        def come_late(path, other):
            write(path, late="late")
            swap(path, other)

        monkeypatch.setattr("fillwright.atomic.folders.exchange_folders", come_late)
        with write_folder(place, keep=lambda name: name != "a") as new:
            write(new, b="new")
        assert tree(tmp_path) == {"pack": None, "pack/b": b"new", "pack/late": b"late"}

    @pytest.mark.usefixtures("way")
    def test_a_disk_without_links_keeps_the_new_folder(self, tmp_path, monkeypatch):
        place = tmp_path / "pack"
        place.mkdir()
        write(place, a="old", mine="mine")

        def no_links(*_args, **_named):
            raise OSError(errno.EPERM, "Operation not permitted")

        monkeypatch.setattr(os, "link", no_links)
        with write_folder(place, keep=lambda name: name == "mine") as new:
            write(new, b="new")
        assert tree(tmp_path) == {"pack": None, "pack/b": b"new", "pack/mine": b"mine"}

    def test_a_second_build_is_refused_and_says_who_builds(self, tmp_path):
        place = tmp_path / "pack"
        with write_folder(place) as new:
            write(new, a="new")
            with (
                pytest.raises(
                    OutputError, match=rf"is being built by process {os.getpid()} on .* since 20\d\d-"
                ),
                write_folder(place),
            ):
                pytest.fail("nothing should be filled")
        assert tree(tmp_path) == {"pack": None, "pack/a": b"new"}

    def test_leftovers_of_dead_runs_go_and_those_of_live_ones_stay(self, tmp_path):
        dead = tmp_path / ".fillwright-0123456789ab.part"
        dead.mkdir()
        write(dead, a="half")
        write(tmp_path, **{".fillwright-0123456789ab.file": "half", ".fillwright-0123456789ab.lock": "{"})
        write(tmp_path, **{".fillwright-mine.txt": "mine", "fillwright.part": "mine"})
        (tmp_path / ".fillwright-abcdefabcdef.part").symlink_to(tmp_path / "elsewhere")
        with leftovers.make_hidden_folder(tmp_path) as living, write_folder(tmp_path / "pack") as new:
            write(new, a="new")
            assert living.is_dir()
            assert not dead.exists()
        left = {path.name for path in tmp_path.iterdir()}
        assert left == {".fillwright-mine.txt", "fillwright.part", ".fillwright-abcdefabcdef.part", "pack"}

    def test_where_there_are_no_locks_work_goes_on_and_leftovers_stay(self, tmp_path, monkeypatch):
        monkeypatch.setattr(locks.fcntl, "flock", full_disk)
        dead = tmp_path / ".fillwright-0123456789ab.part"
        dead.mkdir()
        with write_folder(tmp_path / "pack") as new:
            write(new, a="new")
        assert tree(tmp_path) == {dead.name: None, "pack": None, "pack/a": b"new"}

    def test_a_failure_takes_back_the_parents_it_made(self, tmp_path):
        def fill():
            with write_folder(tmp_path / "deep" / "down" / "pack") as new:
                write(new, a="1")
                full_disk()

        with pytest.raises(OutputError, match="the disk is full"):
            fill()
        assert tree(tmp_path) == {}

    @pytest.mark.parametrize(
        ("name", "words"),
        [
            ("file", 'file" is a file; give the name of a folder.'),
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

        monkeypatch.setattr(Path, "mkdir", read_only)
        monkeypatch.setattr(os, "open", read_only)
        with pytest.raises(OutputError, match="read-only file system"), write_folder(tmp_path / "pack"):
            pytest.fail("nothing should be filled")
        assert tree(tmp_path) == {}
