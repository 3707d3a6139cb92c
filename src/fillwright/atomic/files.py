"""One file, written whole or not at all; devices and pipes are written to and never replaced."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from fillwright.atomic.disk import describe_reason, flush_folder, ignore_unsupported
from fillwright.atomic.leftovers import name_part, sweep_leftovers
from fillwright.atomic.locks import is_still, take_lock
from fillwright.errors import OutputError

_NEW = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)  # flags of a file that is not there yet
_AS_IT_IS = os.O_WRONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0)  # flags of a device or pipe


def write_file(path: Path, content: bytes, *, private: bool = False) -> None:
    """Write a file under a hidden name, then rename it: after a failure the old file is still there.

    Args:
        path: its place; a link leads on to its target, and a device or a pipe gets the content.
        content: all of it.
        private: True for a file that other users of the computer can't read.

    Raises:
        OutputError: where the folder is missing, is a file, is not writable or is full.
    """
    with open_file(path, private=private) as file:
        file.write(content)


@contextmanager
def open_file(path: Path, *, private: bool = False) -> Iterator[BinaryIO]:
    """Yield a file to write piece by piece; it takes its place at the end, and is deleted after an error.

    Args:
        path: as `write_file` takes it. What is yielded for a pipe can't seek.
        private: likewise.

    Raises:
        OutputError: likewise.
    """
    try:
        target = _find_target(path)
        if os.path.lexists(target) and not stat.S_ISREG(target.stat().st_mode):
            with _open_special(path, target) as file:
                yield file
            return
        if not target.parent.is_dir():
            raise OutputError(f'"{path}" can\'t be written: there is no folder "{path.parent}".')
        with _open_new(target, 0o600 if private else 0o666) as file:
            yield file
    except OSError as error:
        raise OutputError(f'"{path}" can\'t be written: {describe_reason(error)}.') from error


def _find_target(path: Path) -> Path:
    """Follow links, so that a link stays a link; one that leads nowhere is replaced."""
    if path.is_dir():
        raise OutputError(f'"{path}" is a folder; give the name of a file.')
    return path.resolve() if path.exists() else path


@contextmanager
def _open_new(path: Path, mode: int) -> Iterator[BinaryIO]:
    """Yield a new hidden file, locked while it is written, that becomes `path`."""
    sweep_leftovers(path.parent)
    hidden, handle = _make_hidden_file(path.parent, mode)
    try:
        with os.fdopen(handle, "w+b") as file:
            yield file
            file.flush()
            with ignore_unsupported():
                os.fsync(handle)
            if os.name != "nt":  # the lock ends with the file, so it is renamed first where that is allowed
                hidden.replace(path)
        if os.name == "nt":
            hidden.replace(path)
        flush_folder(path.parent)
    finally:
        with suppress(OSError):
            hidden.unlink(missing_ok=True)


def _make_hidden_file(folder: Path, mode: int) -> tuple[Path, int]:
    while True:
        hidden = name_part(folder, "file")
        handle = os.open(hidden, _NEW, mode)
        take_lock(handle)
        if is_still(hidden, handle):  # else another run took it for a leftover just now
            return hidden, handle
        os.close(handle)


@contextmanager
def _open_special(path: Path, target: Path) -> Iterator[BinaryIO]:
    """Yield a device or a pipe, to be written to as it is.

    Raises:
        OutputError: for a disk, a socket, or a pipe without a reader.
    """
    mode = target.stat().st_mode
    if not (stat.S_ISCHR(mode) or stat.S_ISFIFO(mode)):
        kind = "a disk" if stat.S_ISBLK(mode) else "a socket" if stat.S_ISSOCK(mode) else "something special"
        raise OutputError(f'"{path}" is {kind}, not a file; give the name of a file.')
    try:
        handle = os.open(target, _AS_IT_IS)  # without waiting for a reader
    except OSError as error:
        if error.errno == errno.ENXIO:
            raise OutputError(f'"{path}" is a pipe without a reader; start its reader first.') from error
        raise
    os.set_blocking(handle, True)
    with os.fdopen(handle, "wb") as file:
        yield file
