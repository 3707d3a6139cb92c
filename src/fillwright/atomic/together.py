"""A few files in a folder that may hold others: all of them new, or all as before."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from fillwright.atomic.disk import describe_reason, flush_folder, flush_tree
from fillwright.atomic.folders import link_or_copy, write_folder
from fillwright.atomic.leftovers import make_hidden_folder, sweep_leftovers
from fillwright.atomic.locks import lock_path, name_hidden
from fillwright.errors import OutputError

_MOST_ENTRIES = 100  # of a folder that is exchanged whole; in a larger one the files are moved one by one. Ours
_OLD, _NEW = "old", "new"


def write_together(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder, all of them or none; other files in it stay.

    A folder that holds little else is exchanged in one step. In another one the files are moved one by one.
    If the program is killed just then, the next call with the same files finishes that first.

    Args:
        folder: created if missing.
        files: contents by name.

    Raises:
        OutputError: if the folder is a file, is read-only, full, or written by somebody else just now.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputError(f'"{folder}" is a file. Name a folder for the report.')
    try:
        if _is_small(folder):
            with write_folder(folder, keep=lambda name: name not in files) as new:
                _write_files(new, files)
        else:
            _write_into(folder, files)
    except OSError as error:
        raise OutputError(f'"{folder}" can\'t be written: {describe_reason(error)}.') from error


def _is_small(folder: Path) -> bool:
    """Return True for a folder that can be exchanged: few files, no folders in it, its parent open to us."""
    if not folder.exists():
        return True
    resolved = folder.resolve()
    with os.scandir(resolved) as entries:
        few = all(number < _MOST_ENTRIES and not entry.is_dir() for number, entry in enumerate(entries))
    return few and not resolved.is_mount() and os.access(resolved.parent, os.W_OK)


def _write_files(folder: Path, files: Mapping[str, bytes]) -> None:
    for name, content in files.items():
        (folder / name).write_bytes(content)


def _write_into(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write the files into a hidden folder, then move them; its last name says that it is complete."""
    first = folder / sorted(files)[0]
    ready = name_hidden(first, "ready")
    with lock_path(first):
        sweep_leftovers(folder)
        _finish(ready, folder)
        with make_hidden_folder(folder) as hidden:
            for part in (_OLD, _NEW):
                (hidden / part).mkdir()
            _write_files(hidden / _NEW, files)
            for name in files:
                if os.path.lexists(folder / name):
                    link_or_copy(folder / name, hidden / _OLD / name)
            flush_tree(hidden)
            hidden.rename(ready)
        try:
            _finish(ready, folder)
        except BaseException:
            _undo(ready, folder, files)
            raise


def _finish(ready: Path, folder: Path) -> None:
    """Move the files of a complete hidden folder to their places, if there is one."""
    if not ready.is_dir():
        return
    if (ready / _NEW).is_dir():  # else it is being deleted already
        for path in sorted((ready / _NEW).iterdir()):
            path.replace(folder / path.name)
        flush_folder(folder)
    shutil.rmtree(ready, ignore_errors=True)


def _undo(ready: Path, folder: Path, names: Mapping[str, bytes]) -> None:
    """Put the old files back after an error."""
    for name in names:
        moved = not (ready / _NEW / name).exists()
        with suppress(OSError):
            if (ready / _OLD / name).exists():
                (ready / _OLD / name).replace(folder / name)
            elif moved:
                (folder / name).unlink()
    shutil.rmtree(ready, ignore_errors=True)
