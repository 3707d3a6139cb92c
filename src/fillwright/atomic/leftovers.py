"""Hidden and temporary folders that go with their process, and the removal of those that a killed one left.

Each is locked as long as it is in use. One that can be locked by somebody else belongs to no one any more.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from fillwright.atomic.disk import describe_reason
from fillwright.atomic.locks import is_still, take_lock
from fillwright.errors import OutputError

_LEFTOVER = re.compile(r"\.?fillwright-[0-9a-z_]+\.(part|file|lock|tmp)")
"""Names that may be deleted; ".between" is not among them, because it may be the only copy of a pack."""


def name_part(folder: Path, ending: str) -> Path:
    """Return a new hidden name in a folder; the name of what it becomes may be as long as names can be."""
    return folder / f".fillwright-{secrets.token_hex(6)}.{ending}"


@contextmanager
def make_hidden_folder(parent: Path) -> Iterator[Path]:
    """Yield a new hidden folder, which is deleted at the end with all that it holds then.

    Raises:
        OSError: where it can't be made.
    """
    folder, handle = _make_held_folder(parent)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        close_handle(handle)


def _make_held_folder(parent: Path, *, temporary: bool = False) -> tuple[Path, int | None]:
    """Make a folder and lock it; if another run takes it for a leftover in between, make another."""
    while True:
        folder = parent / f"fillwright-{secrets.token_hex(6)}.tmp" if temporary else name_part(parent, "part")
        folder.mkdir(0o700)
        with suppress(FileNotFoundError):
            folder.chmod(0o700 if temporary else 0o755)
            handle = hold_folder(folder)
            if handle is None or is_still(folder, handle):
                return folder, handle
            close_handle(handle)


def hold_folder(folder: Path) -> int | None:
    """Lock a folder, so that no one takes it for a leftover; return the handle that has the lock, if any.

    Raises:
        OSError: where it can't be opened.
    """
    if os.name == "nt":  # folders can't be opened there
        return None
    handle = os.open(folder, os.O_RDONLY)
    take_lock(handle)
    return handle


def close_handle(handle: int | None) -> None:
    """Close a handle, and with it end its lock; do nothing for None."""
    if handle is not None:
        os.close(handle)


@contextmanager
def make_temporary_folder() -> Iterator[Path]:
    """Yield a new folder among the system's temporary ones, closed to other users; it is deleted at the end.

    What killed runs left there, such as a student's recording, is deleted first.

    Raises:
        OutputError: where it can't be made or is full.
    """
    parent = Path(tempfile.gettempdir())
    sweep_leftovers(parent)
    held: tuple[Path, int | None] | None = None
    try:
        held = _make_held_folder(parent, temporary=True)
        yield held[0]
    except OSError as error:
        reason = describe_reason(error)
        raise OutputError(f'The temporary folder "{parent}" can\'t be used: {reason}.') from error
    finally:
        if held:
            shutil.rmtree(held[0], ignore_errors=True)
            close_handle(held[1])


def sweep_leftovers(folder: Path) -> None:
    """Delete what runs that were killed left in a folder; nothing of a process that still runs."""
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if _LEFTOVER.fullmatch(entry.name):
                _delete_unused(folder / entry.name)


def _delete_unused(path: Path) -> None:
    """Delete a hidden file or folder if no one has its lock; a link is left alone."""
    flags = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    try:
        handle = os.open(path, os.O_RDONLY | flags)
    except OSError:
        return
    try:
        if take_lock(handle) and is_still(path, handle):
            mode = os.fstat(handle).st_mode
            if stat.S_ISDIR(mode):
                shutil.rmtree(path, ignore_errors=True)
            elif stat.S_ISREG(mode):
                with suppress(OSError):
                    path.unlink()
    finally:
        os.close(handle)
