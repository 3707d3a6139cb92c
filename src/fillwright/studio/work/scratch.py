"""Temporary folders of work in progress; those that a killed studio left are deleted at the next start."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from pathlib import Path

_PREFIX = "fillwright-studio-"
_NAME = re.compile(re.escape(_PREFIX) + r"(\d{1,10})-\w+")


def make_scratch() -> Path:
    """Make a temporary folder that only this user can read; its name has the number of this process."""
    return Path(tempfile.mkdtemp(prefix=f"{_PREFIX}{os.getpid()}-"))


def delete_scratch(folder: Path) -> None:
    """Delete a temporary folder with its files."""
    shutil.rmtree(folder, ignore_errors=True)


def sweep_scratch() -> None:
    """Delete the temporary folders of this user's processes that have ended."""
    for folder in Path(tempfile.gettempdir()).glob(f"{_PREFIX}*"):
        match = _NAME.fullmatch(folder.name)
        if match and not _is_running(int(match[1])):
            delete_scratch(folder)


def _is_running(process: int) -> bool:
    """Return True if there is a process of that number, or if that can't be found out."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)  # signal 0 only asks (POSIX, kill)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True
