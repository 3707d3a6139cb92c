"""The disk: reasons of errors in plain words, files that outlast a power cut."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_REASONS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "your share of the disk is full",
    errno.EFBIG: "the file is larger than this disk or account allows",
    errno.EXDEV: "it is a disk of its own, so give a folder inside it",
    errno.EBUSY: "the system uses it, so give a folder inside it",
}
"""Reasons in plainer words than the system's."""

UNSUPPORTED = frozenset((errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP))
"""Errors of a system that can't do something at all."""


def describe_reason(error: OSError) -> str:
    """Return the reason for an error of the operating system, for the middle of a sentence.

    >>> describe_reason(OSError(errno.ENOSPC, "No space left on device"))
    'the disk is full'
    >>> describe_reason(PermissionError(errno.EACCES, "Permission denied"))
    'permission denied'
    """
    return _REASONS.get(error.errno or 0) or (error.strerror or str(error)).lower()


def flush_folder(folder: Path) -> None:
    """Wait until a folder's list of names is on the disk, where the system can say so.

    Raises:
        OSError: where the disk fails.
    """
    if os.name == "nt":  # folders can't be opened there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with ignore_unsupported():
            os.fsync(handle)
    finally:
        os.close(handle)


def flush_tree(folder: Path) -> None:
    """Wait until a new folder is on the disk with all in it; files that have a second name are there already.

    Raises:
        OSError: where the disk fails.
    """
    for parent, _, names in os.walk(folder):
        for name in names:
            path = Path(parent, name)
            about = path.lstat()
            if about.st_nlink == 1 and path.is_file() and not path.is_symlink():
                _flush_file(path)
        flush_folder(Path(parent))


def _flush_file(path: Path) -> None:
    with suppress(PermissionError):  # a file of the user's own, carried over, that is closed to reading
        handle = os.open(path, os.O_RDONLY if os.name != "nt" else os.O_RDWR)
        try:
            with ignore_unsupported():
                os.fsync(handle)
        finally:
            os.close(handle)


@contextmanager
def ignore_unsupported() -> Iterator[None]:
    """Ignore errors of a file system that can't do something at all, such as flush a folder."""
    try:
        yield
    except OSError as error:
        if error.errno not in UNSUPPORTED:
            raise
