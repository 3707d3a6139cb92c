import errno
import os
import socket
import stat
import threading
from pathlib import Path

import pytest

from fillwright.atomic import open_file, write_file
from fillwright.errors import OutputError


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

    def test_a_full_disk_leaves_the_old_file(self, tmp_path):
        write(tmp_path, a="old")

        def write_half():
            with open_file(tmp_path / "a") as file:
                file.write(b"n")
                full_disk()

        with pytest.raises(OutputError, match=r'/a" can\'t be written: the disk is full\.$'):
            write_half()
        assert tree(tmp_path) == {"a": b"old"}

    def test_a_link_stays_a_link(self, tmp_path):
        (tmp_path / "deep").mkdir()
        write(tmp_path / "deep", a="old")
        (tmp_path / "link").symlink_to("deep/a")
        write_file(tmp_path / "link", b"new")
        assert os.readlink(tmp_path / "link") == "deep/a"
        assert (tmp_path / "deep" / "a").read_bytes() == b"new"

    def test_a_private_file_is_closed_to_others(self, tmp_path):
        write_file(tmp_path / "a", b"new", private=True)
        write_file(tmp_path / "b", b"new")
        assert (tmp_path / "a").stat().st_mode & 0o777 == 0o600
        assert (tmp_path / "b").stat().st_mode & 0o400

    def test_the_content_is_on_the_disk_before_the_name(self, tmp_path, monkeypatch):
        done = []
        flush, rename = os.fsync, Path.replace
        monkeypatch.setattr(os, "fsync", lambda handle: (done.append("flush"), flush(handle)))
        monkeypatch.setattr(Path, "replace", lambda *paths: (done.append("rename"), rename(*paths)))
        write_file(tmp_path / "a", b"new")
        assert done == ["flush", "rename", "flush"]

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


def make_node(path, kind, major, minor):
    """A device node, as root."""
    try:
        os.mknod(path, kind | 0o666, os.makedev(major, minor))
    except OSError:
        pytest.skip("needs root, and a system that lets it make devices")


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such files")
class TestSpecialFiles:
    """Devices, pipes and sockets, which no file ever replaces."""

    def test_the_null_device_stays(self):
        before = os.stat(os.devnull)
        write_file(Path(os.devnull), b"new")
        after = os.stat(os.devnull)
        assert (after.st_ino, after.st_rdev, after.st_mode) == (before.st_ino, before.st_rdev, before.st_mode)

    def test_a_device_gets_the_content(self, tmp_path):
        make_node(tmp_path / "null", stat.S_IFCHR, 1, 3)
        write_file(tmp_path / "null", b"new")
        assert stat.S_ISCHR((tmp_path / "null").stat().st_mode)
        assert [path.name for path in tmp_path.iterdir()] == ["null"]

    def test_a_full_device_is_one_sentence(self):
        if not Path("/dev/full").is_char_device():
            pytest.skip("needs /dev/full")
        with pytest.raises(OutputError, match=r'^"/dev/full" can\'t be written: the disk is full\.$'):
            write_file(Path("/dev/full"), b"new")
        assert Path("/dev/full").is_char_device()

    def test_a_disk_is_refused(self, tmp_path):
        make_node(tmp_path / "disk", stat.S_IFBLK, 240, 250)
        with pytest.raises(OutputError, match="is a disk, not a file; give the name of a file"):
            write_file(tmp_path / "disk", b"new")
        assert stat.S_ISBLK((tmp_path / "disk").stat().st_mode)

    def test_a_socket_is_refused(self, tmp_path, monkeypatch):
        monkeypatch.chdir(tmp_path)  # names of sockets are short
        with socket.socket(socket.AF_UNIX) as there:
            there.bind("door")
            with pytest.raises(OutputError, match="is a socket, not a file"):
                write_file(Path("door"), b"new")
        assert stat.S_ISSOCK(os.stat("door").st_mode)

    def test_a_pipe_gets_the_content(self, tmp_path):
        os.mkfifo(tmp_path / "pipe")
        content = bytes(200_000)  # more than a pipe holds
        read = []
        reader = threading.Thread(target=lambda: read.append((tmp_path / "pipe").read_bytes()))
        reader.start()
        for _ in range(1_000):
            try:
                write_file(tmp_path / "pipe", content)
                break
            except OutputError:  # the reader is not there yet
                threading.Event().wait(0.01)
        reader.join()
        assert read == [content]
        assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)

    def test_a_pipe_without_a_reader_is_refused_at_once(self, tmp_path):
        os.mkfifo(tmp_path / "pipe")
        with pytest.raises(OutputError, match="is a pipe without a reader; start its reader first"):
            write_file(tmp_path / "pipe", b"new")

    def test_a_link_to_a_device_stays(self, tmp_path):
        (tmp_path / "link").symlink_to(os.devnull)
        write_file(tmp_path / "link", b"new")
        assert os.readlink(tmp_path / "link") == os.devnull
        assert stat.S_ISCHR(os.stat(os.devnull).st_mode)
