"""Two folders exchanged in one step, or in three that the next start undoes."""

from __future__ import annotations

import ctypes
import errno
import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

from fillwright.atomic.disk import UNSUPPORTED
from fillwright.atomic.locks import name_hidden

_AT_FDCWD = -100  # a path is relative to the working folder (Linux, fcntl.h, from memory)
_RENAME_EXCHANGE = 2  # exchange both names (Linux, linux/fs.h, from memory)
_RENAME_SWAP = 2  # the same (macOS, sys/stdio.h, from memory)
_CANNOT = UNSUPPORTED | {errno.EPERM}
"""Errors of a system or disk without such an exchange; a sandbox that does not know the call forbids it."""


def exchange_folders(path: Path, other: Path) -> None:
    """Exchange two folders of one disk.

    Where the system can't do it in one step, `path` is missing for a moment. If the program is killed then,
    `recover_folder` brings it back.

    Raises:
        OSError: where it can't be done; both are then as before, or as `recover_folder` finds them.
    """
    if _swap_names(path, other):
        return
    between = name_hidden(path, "between")
    path.rename(between)
    try:
        other.rename(path)
    except BaseException:
        between.rename(path)
        raise
    between.rename(other)


def recover_folder(path: Path) -> None:
    """Undo an exchange that was killed halfway, so that `path` holds all the old or all the new.

    Raises:
        OSError: where it can't be done.
    """
    between = name_hidden(path, "between")
    if not between.is_dir():
        return
    if os.path.lexists(path):
        shutil.rmtree(between)
    else:
        between.rename(path)


def _swap_names(path: Path, other: Path) -> bool:
    """Exchange two names in one step; return False where the system or the disk can't."""
    call = _load_call()
    if call is None:
        return False
    if call(os.fsencode(path), os.fsencode(other)) == 0:
        return True
    code = ctypes.get_errno()
    if code in _CANNOT:
        return False
    raise OSError(code, os.strerror(code), os.fspath(path))


def _load_call() -> Callable[[bytes, bytes], int] | None:
    """Load the system's call that exchanges two names; None where there is none."""
    if sys.platform not in ("linux", "darwin"):
        return None
    library = ctypes.CDLL(None, use_errno=True)
    try:
        if sys.platform == "darwin":
            swap = library.renamex_np
            swap.argtypes = (ctypes.c_char_p, ctypes.c_char_p, ctypes.c_uint)
            return lambda path, other: int(swap(path, other, _RENAME_SWAP))
        rename = library.renameat2
    except AttributeError:
        return None
    rename.argtypes = (ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_uint)
    return lambda path, other: int(rename(_AT_FDCWD, path, _AT_FDCWD, other, _RENAME_EXCHANGE))
