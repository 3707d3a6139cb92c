"""A full disk as one sentence and a status of its own, in every part of the studio."""

from __future__ import annotations

import errno

from fillwright.store.files.failures import FullDiskError

FULL_DISK = "The disk of this studio is full, so nothing was saved. Ask the person who runs it to make space."
FULL_DISK_STATUS = 507
"""HTTP status of a full disk (RFC 4918, 11.5)."""

_NUMBERS = frozenset({errno.ENOSPC, errno.EDQUOT})  # of an OSError for a full disk, or a quota that is used up


def is_full_disk(error: BaseException | None) -> bool:
    """Return True if an error, or one that it came from, is a full disk."""
    while error is not None:
        if isinstance(error, FullDiskError) or (isinstance(error, OSError) and error.errno in _NUMBERS):
            return True
        error = error.__cause__
    return False
