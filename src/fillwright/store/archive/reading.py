"""Read a backup strictly: bounded memory, every hash, every row by its schema, one sentence for any damage."""

from __future__ import annotations

import hashlib
import struct
import zipfile
import zlib
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from io import SEEK_END
from pathlib import Path
from typing import IO

import msgspec
from sqlalchemy import Table

from fillwright import budget
from fillwright.errors import StoreError
from fillwright.store.archive.contents import FORMAT, MANIFEST, Manifest, RowCounts, allow_unpacked, name_part
from fillwright.store.archive.rows import KeyOrder, Row, decode_row, has_recordings, list_tables
from fillwright.store.database import list_revisions

_BLOCK_BYTES = 1 << 18
"""Bytes that are unpacked at a time. Ours."""

_MOST_READ_BYTES = 1 << 20
"""Bytes that the zip's own list of files may have; 16 files have 1,000. Ours."""

_NOTHING = "Nothing was restored."

_ZIP_ERRORS = (
    *(zipfile.BadZipFile, zlib.error, struct.error, EOFError, NotImplementedError, RuntimeError),
    *(ValueError, OverflowError, LookupError, OSError),
)
"""Exceptions of `zipfile` for damaged files."""


def check_backup(path: Path) -> RowCounts:
    """Read every row of a backup, and restore nothing.

    Raises:
        StoreError: if it can't be read, is not a backup, is damaged or would need too much space.
    """
    with open_backup_file(path) as file, open_backup(file) as backup:
        for table in list_tables():
            deque(backup.read_rows(table), maxlen=0)
        return backup.counts


@contextmanager
def open_backup_file(path: Path) -> Iterator[IO[bytes]]:
    """Open the file of a backup.

    Raises:
        StoreError: if it can't be read.
    """
    try:
        file = path.open("rb")
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise StoreError(f'"{path}" can\'t be read: {reason}.') from error
    with file:
        yield file


class Backup:
    """An open backup.

    Attributes:
        manifest: the list of its files.
        counts: number of rows by table.
    """

    def __init__(self, archive: zipfile.ZipFile, packed: int) -> None:
        """Take the zip and its size in bytes."""
        self._archive = archive
        self._bytes_left = allow_unpacked(packed)
        self._infos = _list_files(archive)
        self.manifest = self._read_manifest()
        self._check_revision()
        self.counts = self._count_rows()

    def read_rows(self, table: Table) -> Iterator[Row]:
        """Yield the rows of a table, one in memory at a time.

        Raises:
            StoreError: for a damaged file, at the latest after its last row.
        """
        name = name_part(table)
        order, digest = KeyOrder(table), hashlib.sha256()
        number = 0
        for line in self._read_lines(name, digest, _find_longest_row(table)):
            number += 1
            row = _decode_line(table, line, name, number)
            line.clear()  # before the row is used
            if not order.accept(row):
                raise StoreError(f"{name} in the backup is damaged: row {number:,} is out of order. {_NOTHING}")
            yield row
            del row  # a recording, before the next one is read
        if digest.hexdigest() != self.manifest.sha256[name] or number != self.manifest.rows[table.name]:
            raise StoreError(f"{name} in the backup is missing or damaged. {_NOTHING}")

    def _read_lines(self, name: str, digest: hashlib._Hash, longest: int) -> Iterator[bytearray]:
        """Yield the lines of a file without their ends; the caller may empty a line."""
        line = bytearray()
        for block in self._read_blocks(name):
            digest.update(block)
            start = 0
            while (end := block.find(b"\n", start)) >= 0:
                line += block[start:end]
                yield line
                line = bytearray()
                start = end + 1
            line += block[start:]
            if len(line) > longest:
                raise StoreError(
                    f"{name} in the backup has a row of more than {budget.format_bytes(longest)}, "
                    f"the most that is accepted. {_NOTHING}"
                )
        if line:
            yield line

    def _read_blocks(self, name: str) -> Iterator[bytes]:
        with _refuse_damage(name):
            part = self._archive.open(self._infos[name])
        with part:
            while True:
                with _refuse_damage(name):
                    block = part.read(_BLOCK_BYTES)
                if not block:
                    return
                self._bytes_left -= len(block)
                if self._bytes_left < 0:
                    raise StoreError(
                        f"The file is not a backup: it unpacks to far more than its size suggests. {_NOTHING}"
                    )
                yield block

    def _read_manifest(self) -> Manifest:
        content = b""
        try:
            for block in self._read_blocks(MANIFEST):
                content += block
                if len(content) > budget.BACKUP_MANIFEST_BYTES:
                    raise ValueError("too long")
            known = msgspec.json.decode(content, type=_Version).format == FORMAT
            manifest = msgspec.json.decode(content, type=Manifest) if known else None
        except (StoreError, msgspec.MsgspecError, ValueError, RecursionError) as error:
            raise StoreError(f"The file is not a backup: it has no readable {MANIFEST}. {_NOTHING}") from error
        if manifest is None:
            raise StoreError(
                "The backup was made by a newer version of Fillwright. Update Fillwright and try again."
            )
        return manifest

    def _check_revision(self) -> None:
        """Refuse a backup of a version of the tables that we have never had.

        Raises:
            StoreError: for such a backup.
        """
        revisions = list_revisions()
        if self.manifest.revision not in revisions:
            raise StoreError(
                f"The backup has tables of version {self.manifest.revision[:20]}, this store of version "
                f"{revisions[0]}. Restore it with the version of Fillwright that made it, then update."
            )

    def _count_rows(self) -> RowCounts:
        """Return the number of rows by table, after checking that each has a file.

        The tables of a backup are those of the first version, so backups of earlier versions have them too.

        Raises:
            StoreError: where one is missing.
        """
        rows: dict[str, int] = {}
        for table in list_tables():
            name = name_part(table)
            listed = name in self.manifest.sha256 and table.name in self.manifest.rows
            if not (listed and name in self._infos):
                raise StoreError(f"{name} in the backup is missing or damaged. {_NOTHING}")
            rows[table.name] = self.manifest.rows[table.name]
        return RowCounts(rows=rows)


class _Version(msgspec.Struct, frozen=True):
    """The part of a manifest that every version has."""

    format: int


@contextmanager
def open_backup(file: IO[bytes]) -> Iterator[Backup]:
    """Open a backup.

    Args:
        file: open for reading.

    Raises:
        StoreError: for a file that is not a backup, a damaged one, or one of another version.
    """
    with _refuse_damage(""):
        file.seek(0, SEEK_END)
        packed = file.tell()
        archive = zipfile.ZipFile(_BoundedReader(file))
    with archive:
        yield Backup(archive, packed)


class _BoundedReader:
    """A file of which no one reads much at once, so that a zip can't claim to have a long list of files."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self.seek, self.tell = file.seek, file.tell

    def read(self, size: int = -1) -> bytes:
        if size > _MOST_READ_BYTES:
            raise zipfile.BadZipFile("a list of files that is too long")
        return self._file.read(size)

    def seekable(self) -> bool:
        return True


@contextmanager
def _refuse_damage(name: str) -> Iterator[None]:
    try:
        yield
    except _ZIP_ERRORS as error:
        if name:
            raise StoreError(f"{name} in the backup is missing or damaged. {_NOTHING}") from error
        raise StoreError(f"The file is not a backup, or it is incomplete. {_NOTHING}") from error


def _list_files(archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    """Return the files of a zip by name.

    Raises:
        StoreError: for too many, two of one name, or a way of packing that backups don't have.
    """
    infos = archive.infolist()
    budget.check_count("The backup", len(infos), budget.BACKUP_FILES, "files", error=StoreError)
    usual = {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
    by_name = {info.filename: info for info in infos if info.compress_type in usual and not info.flag_bits & 1}
    if len(by_name) < len(infos):
        raise StoreError(f"The file is not a backup: its files are packed in another way. {_NOTHING}")
    return by_name


def _find_longest_row(table: Table) -> int:
    return budget.BACKUP_RECORDING_ROW_BYTES if has_recordings(table) else budget.BACKUP_ROW_BYTES


def _decode_line(table: Table, line: bytearray, name: str, number: int) -> Row:
    try:
        return decode_row(table, line)
    except StoreError as error:
        raise StoreError(
            f"{name} in the backup is damaged: row {number:,} can't be read. {_NOTHING}"
        ) from error
