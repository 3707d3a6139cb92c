"""One folder, written whole and put in its place in one step."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from fillwright.atomic.disk import describe_reason, flush_folder, flush_tree
from fillwright.atomic.exchange import exchange_folders, recover_folder
from fillwright.atomic.leftovers import close_handle, hold_folder, make_hidden_folder, sweep_leftovers
from fillwright.atomic.locks import lock_path
from fillwright.errors import OutputError

Kept = Callable[[str], bool]
"""Called with a path in the old folder, such as "fills/notes.txt"; True for one that the new folder keeps."""


def _keep_nothing(_name: str) -> bool:
    return False


@contextmanager
def write_folder(path: Path, *, keep: Kept = _keep_nothing) -> Iterator[Path]:
    """Yield a new folder to fill; it replaces `path` at the end, and is deleted after an error.

    Killed at any moment, the program leaves the old folder or the new one, whole; what it leaves next to it is
    deleted by the next build there. While it is built, no one else can build it.

    Args:
        path: its place. It is locked, and what a killed build left is in order again, when the block begins.
        keep: chooses the files of the old folder that stay, unless the new one has a file of that name.

    Raises:
        OutputError: where `path` is a file, its place can't be written, or somebody else builds it.
    """
    missing: list[Path] = []
    try:
        _refuse_files(path)
        path = path.resolve()
        if path.exists() and not os.access(path, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), os.fspath(path))
        missing = [parent for parent in path.parents if not parent.exists()]
        path.parent.mkdir(parents=True, exist_ok=True)
        with lock_path(path):
            recover_folder(path)
            sweep_leftovers(path.parent)
            with make_hidden_folder(path.parent) as folder:
                yield folder
                _carry_files(path, folder, keep)
                flush_tree(folder)
                _put_folder(folder, path, keep)
    except OSError as error:
        raise OutputError(f'"{path}" can\'t be written: {describe_reason(error)}.') from error
    finally:
        for parent in missing:
            with suppress(OSError):  # holds the folder where all went well
                parent.rmdir()


def _refuse_files(path: Path) -> None:
    """Refuse a file where a folder must be."""
    if path.exists() and not path.is_dir():
        raise OutputError(f'"{path}" is a file; give the name of a folder.')
    for parent in path.parents:
        if parent.exists() and not parent.is_dir():
            raise OutputError(f'"{path}" can\'t be written: "{parent}" is a file, not a folder.')


def _put_folder(folder: Path, path: Path, keep: Kept) -> None:
    """Put a new folder in its place; at the end `folder` holds what is to be deleted."""
    if not path.exists():
        folder.rename(path)
        flush_folder(path.parent)
        return
    handle = hold_folder(path)  # so that no one sweeps the old folder under its hidden name
    try:
        shutil.copymode(path, folder)
        exchange_folders(path, folder)
        flush_folder(path.parent)
        _carry_files(folder, path, keep)  # files that came at the last moment
        with suppress(OSError):
            _return_place(path, folder)
    finally:
        close_handle(handle)


def _return_place(path: Path, old: Path) -> None:
    """Fill the old folder with the new files, and exchange again: a shell or a file window may be open in it.

    Raises:
        OSError: where the disk has no links; the new folder then stays where it is.
    """
    for entry in old.iterdir():
        if entry.is_dir() and not entry.is_symlink():
            shutil.rmtree(entry)
        else:
            entry.unlink()
    _link_files(path, old, lambda _: True)
    exchange_folders(path, old)
    _link_files(old, path, lambda _: True)  # files that came at the last moment
    flush_folder(path)
    flush_folder(path.parent)


def _carry_files(source: Path, target: Path, keep: Kept) -> None:
    """Take files, links and empty folders over that are chosen and not there yet, copies where links fail."""
    _link_files(source, target, keep, copy=True)


def _link_files(source: Path, target: Path, keep: Kept, *, copy: bool = False) -> None:
    if not source.is_dir():
        return
    for path in sorted(source.rglob("*")):
        name = path.relative_to(source).as_posix()
        is_folder = path.is_dir() and not path.is_symlink()
        if (is_folder and any(path.iterdir())) or not keep(name) or os.path.lexists(target / name):
            continue
        (target / name).parent.mkdir(parents=True, exist_ok=True)
        if is_folder:
            (target / name).mkdir()
        elif copy:
            link_or_copy(path, target / name)
        else:
            os.link(path, target / name, follow_symlinks=False)


def link_or_copy(old: Path, new: Path) -> None:
    """Give a file a second name, or copy it where the disk has no links.

    Raises:
        OSError: where neither can be done.
    """
    try:
        os.link(old, new, follow_symlinks=False)
    except OSError:
        shutil.copy2(old, new, follow_symlinks=False)
