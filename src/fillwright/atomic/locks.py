"""Locks: who builds a folder now, and which hidden files belong to a process that still runs.

A lock is the system's own (flock), so it ends with its process, however that ends. Where there are no locks, as
on some network disks, work goes on without them, and leftovers stay.
"""

from __future__ import annotations

import hashlib
import json
import os
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from fillwright.errors import OutputError

if sys.platform != "win32":
    import fcntl

_MOST_NOTE_BYTES = 1_000  # of the note in a lock; a longer one is not ours


def take_lock(handle: int) -> bool | None:
    """Lock an open file or folder until it is closed.

    Returns:
        True if it is locked now, False if somebody else has it, None where there are no locks.
    """
    if sys.platform == "win32":
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return None
    return True


def is_still(path: Path, handle: int) -> bool:
    """Return True if a path still leads to an open file, which no one has deleted or replaced."""
    try:
        return os.path.samestat(path.lstat(), os.fstat(handle))
    except OSError:
        return False


def name_hidden(path: Path, ending: str) -> Path:
    """Return the hidden neighbour of a path with that ending; its name is short, and always the same."""
    digest = hashlib.sha256(os.fsencode(path.name)).hexdigest()[:12]
    return path.with_name(f".fillwright-{digest}.{ending}")


@contextmanager
def lock_path(path: Path) -> Iterator[None]:
    """Keep other builds away from a path, which need not exist, with a hidden file next to it.

    Raises:
        OutputError: where somebody else builds it; the text says who, and since when.
        OSError: where its folder can't be written.
    """
    lock = name_hidden(path, "lock")
    handle = _open_lock(lock, path)
    try:
        _write_note(handle)
        yield
    finally:
        with suppress(OSError):
            lock.unlink()
        os.close(handle)


def _open_lock(lock: Path, path: Path) -> int:
    """Open and lock a file of that name; the one that was there may be deleted at the same moment."""
    while True:
        handle = os.open(lock, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o644)
        try:
            if take_lock(handle) is False:
                holder = _describe_holder(handle)
                raise OutputError(f'"{path}" is being built by {holder}; wait until that is done.')
            if is_still(lock, handle):
                return handle
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)


def _write_note(handle: int) -> None:
    note = {
        "process": os.getpid(),
        "computer": socket.gethostname(),
        "since": datetime.now().astimezone().isoformat(timespec="minutes"),
    }
    with suppress(OSError):  # a full disk is noticed by what is built
        os.ftruncate(handle, 0)
        os.write(handle, json.dumps(note).encode())


def _describe_holder(handle: int) -> str:
    try:
        note = json.loads(os.read(handle, _MOST_NOTE_BYTES))
        since = datetime.fromisoformat(note["since"]).astimezone()
        return f"process {int(note['process'])} on {str(note['computer'])[:100]} since {since:%Y-%m-%d %H:%M}"
    except (OSError, ValueError, KeyError, TypeError):
        return "another process"
