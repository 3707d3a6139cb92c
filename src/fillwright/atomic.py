"""Atomic writing of files and folders: whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from fillwright.errors import OutputError


def write_file(path: Path, content: bytes) -> None:
    """Write a file under a temporary name, then rename it: after a failure the old file is still there.

    Raises:
        OutputError: where the folder is missing, is a file, is not writable or is full.
    """
    temporary = path.with_name(f".{path.name[:40]}.{os.getpid()}.part")
    try:
        if path.is_dir():
            raise OutputError(f'"{path}" is a folder; give the name of a file.')
        if not path.parent.is_dir():
            raise OutputError(f'"{path}" can\'t be written: there is no folder "{path.parent}".')
        temporary.write_bytes(content)
        temporary.replace(path)
    except OSError as error:
        raise OutputError(f'"{path}" can\'t be written: {describe_reason(error)}.') from error
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


@contextmanager
def write_folder(path: Path) -> Iterator[Path]:
    """Yield a new folder to fill; it replaces `path` at the end, and is deleted after an error.

    Raises:
        OutputError: where `path` is a file, or its place can't be written.
    """
    folder: Path | None = None
    missing: list[Path] = []
    try:
        _refuse_files(path)
        missing = [parent for parent in path.parents if not parent.exists()]
        path.parent.mkdir(parents=True, exist_ok=True)
        folder = _make_hidden_folder(path, ".part")
        folder.chmod(0o755)
        yield folder
        _replace_folder(folder, path)
    except OSError as error:
        raise OutputError(f'"{path}" can\'t be written: {describe_reason(error)}.') from error
    finally:
        if folder:
            shutil.rmtree(folder, ignore_errors=True)
        for parent in missing:
            with suppress(OSError):  # holds the folder where all went well
                parent.rmdir()


def _refuse_files(path: Path) -> None:
    """Refuse a file where a folder must be."""
    if path.exists() and not path.is_dir():
        raise OutputError(f'"{path}" is a file; give the name of a folder for the pack.')
    for parent in path.parents:
        if parent.exists() and not parent.is_dir():
            raise OutputError(f'"{path}" can\'t be written: "{parent}" is a file, not a folder.')


def _make_hidden_folder(path: Path, suffix: str) -> Path:
    """Make a hidden folder next to a path; its name is short, since that of the path may have full length."""
    return Path(tempfile.mkdtemp(prefix=".fillwright-", suffix=suffix, dir=path.parent))


def _replace_folder(folder: Path, path: Path) -> None:
    """Move a new folder to its path.

    A folder that exists stays and only its contents are exchanged: a shell or a file window may be open in it.
    """
    if not path.exists():
        folder.replace(path)
        return
    old = _make_hidden_folder(path, ".old")
    moves = [(entry, old / entry.name) for entry in path.iterdir()]
    moves += [(entry, path / entry.name) for entry in folder.iterdir()]
    try:
        for here, there in moves:
            here.rename(there)
    except BaseException:
        for here, there in reversed(moves):
            if os.path.lexists(there) and not os.path.lexists(here):
                there.rename(here)
        old.rmdir()
        raise
    shutil.rmtree(old, ignore_errors=True)


def describe_reason(error: OSError) -> str:
    """Return the operating system's reason for an error, for the middle of a sentence."""
    return (error.strerror or str(error)).lower()
