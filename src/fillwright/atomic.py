"""Files and folders written whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from fillwright.errors import OutputError


def write_file(path: Path, content: bytes) -> None:
    """Write a file beside its place, then move it there: a failure leaves what was there before.

    Raises:
        OutputError: where the folder is missing, is a file, is closed to us or full.
    """
    beside = path.with_name(f".{path.name[:40]}.{os.getpid()}.part")
    try:
        if path.is_dir():
            raise OutputError(f'"{path}" is a folder; give the name of a file.')
        if not path.parent.is_dir():
            raise OutputError(f'"{path}" can\'t be written: there is no folder "{path.parent}".')
        beside.write_bytes(content)
        beside.replace(path)
    except OSError as error:
        raise OutputError(f'"{path}" can\'t be written: {describe_reason(error)}.') from error
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)


@contextmanager
def write_folder(path: Path) -> Iterator[Path]:
    """A new folder to fill, that takes the place of `path` when all went well and vanishes when not.

    Raises:
        OutputError: where `path` is a file, or its place can't be written.
    """
    made: Path | None = None
    missing: list[Path] = []
    try:
        _refuse_files(path)
        missing = [parent for parent in path.parents if not parent.exists()]
        path.parent.mkdir(parents=True, exist_ok=True)
        made = _beside(path, ".part")
        made.chmod(0o755)
        yield made
        _take_place(made, path)
    except OSError as error:
        raise OutputError(f'"{path}" can\'t be written: {describe_reason(error)}.') from error
    finally:
        if made:
            shutil.rmtree(made, ignore_errors=True)
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


def _beside(path: Path, suffix: str) -> Path:
    """A new hidden folder beside a path, with a short name: the path's own may be as long as names can be."""
    return Path(tempfile.mkdtemp(prefix=".fillwright-", suffix=suffix, dir=path.parent))


def _take_place(made: Path, path: Path) -> None:
    """Move what was made to its place.

    A folder that is there stays and only what it holds is exchanged: it may be the one that somebody's shell
    or file window stands in.
    """
    if not path.exists():
        made.replace(path)
        return
    old = _beside(path, ".old")
    moves = [(entry, old / entry.name) for entry in path.iterdir()]
    moves += [(entry, path / entry.name) for entry in made.iterdir()]
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
    """What the system says of an error, to stand inside a sentence."""
    return (error.strerror or str(error)).lower()
