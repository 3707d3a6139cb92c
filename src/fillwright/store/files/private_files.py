"""Files that only their owner can read, whatever the umask: the store and its folder."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

PRIVATE_FILE = 0o600  # mode of a file: its owner reads and writes
PRIVATE_FOLDER = 0o700  # mode of a folder: its owner alone

SQLITE_SUFFIXES = ("", "-wal", "-shm", "-journal")
"""Endings of the files in which SQLite keeps one database."""

_STUDIO_NAMES = frozenset(
    (*(f"studio.db{suffix}" for suffix in SQLITE_SUFFIXES), "secret", "sounds", "packs", "log.txt")
)
"""Names in a studio's folder; a folder with anything else in it is somebody's own, and keeps its mode."""


def make_private_folder(folder: Path) -> None:
    """Make a folder that only its owner can open; close one that has nothing but a studio's files.

    Raises:
        OSError: where it can't be made.
    """
    is_new = not folder.exists()
    folder.mkdir(mode=PRIVATE_FOLDER, parents=True, exist_ok=True)
    if is_new or _is_studio(folder):
        with suppress(PermissionError):  # it belongs to somebody else, who has let us in
            folder.chmod(PRIVATE_FOLDER)


def _is_studio(folder: Path) -> bool:
    names = {path.name for path in folder.iterdir() if not path.name.startswith(".fillwright-")}
    return "studio.db" in names and names <= _STUDIO_NAMES


def make_private_file(path: Path) -> None:
    """Make an empty file unless it is there, and close it, with its neighbours of SQLite, to other users.

    Raises:
        OSError: where it can't be made.
    """
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, PRIVATE_FILE))
    for file in list_sqlite_files(path):
        with suppress(FileNotFoundError, PermissionError):
            file.chmod(PRIVATE_FILE)


def list_sqlite_files(path: Path) -> Iterator[Path]:
    """List the files of a database of SQLite, those that are not there too."""
    for suffix in SQLITE_SUFFIXES:
        yield path.with_name(path.name + suffix)


def delete_store_files(path: Path) -> None:
    """Delete the files of a database of SQLite, and its folder if nothing else is in it."""
    for file in list_sqlite_files(path):
        file.unlink(missing_ok=True)
    with suppress(OSError):
        path.parent.rmdir()
