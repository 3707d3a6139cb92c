"""Files and folders written whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fillwright.errors import OutputError


def write_whole(path: Path, content: bytes) -> None:
    """Write a file beside its place, then move it there: a failure leaves what was there before.

    Raises:
        OutputError: where the folder is missing, is a file, is closed to us or full.
    """
    if path.is_dir():
        raise OutputError(f'"{path}" is a folder; give the name of a file.')
    if not path.parent.is_dir():
        raise OutputError(f'"{path}" can\'t be written: there is no folder "{path.parent}".')
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        beside.write_bytes(content)
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise OutputError(f'"{path}" can\'t be written: {_reason(error)}.') from error


@contextmanager
def folder_written_whole(path: Path) -> Iterator[Path]:
    """A new folder to fill, that takes the place of `path` when all went well and vanishes when not.

    Raises:
        OutputError: where `path` is a file, or its place can't be written.
    """
    if path.exists() and not path.is_dir():
        raise OutputError(f'"{path}" is a file; give the name of a folder for the pack.')
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent))
    except OSError as error:
        raise OutputError(f'"{path}" can\'t be written: {_reason(error)}.') from error
    try:
        made.chmod(0o755)
        yield made
        _take_place(made, path)
    except OSError as error:
        raise OutputError(f'"{path}" can\'t be written: {_reason(error)}.') from error
    finally:
        shutil.rmtree(made, ignore_errors=True)


def _take_place(made: Path, path: Path) -> None:
    """Exchange folders; if the second move fails, the first is undone."""
    if not path.exists():
        made.replace(path)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{path.name}.", suffix=".old", dir=path.parent)) / "was"
    path.replace(old)
    try:
        made.replace(path)
    except OSError:
        old.replace(path)
        raise
    finally:
        shutil.rmtree(old.parent, ignore_errors=True)


def _reason(error: OSError) -> str:
    return (error.strerror or str(error)).lower()
