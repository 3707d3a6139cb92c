"""Contents of a backup: a list of its files, and one file of JSON lines for each table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import msgspec
from sqlalchemy import Table

from fillwright import budget

MANIFEST = "backup.json"
"""File in a backup that lists the others, with rows and hashes."""

FORMAT = 1
"""Version of the format of backups."""


class Manifest(msgspec.Struct, frozen=True, kw_only=True):
    """The list of a backup's files.

    Attributes:
        format: version of the format.
        made: time of the backup.
        revision: version of the tables.
        rows: number of rows by table.
        sha256: hash of each file in hexadecimal digits, by its name.
    """

    format: int
    made: datetime
    revision: str
    rows: dict[str, int]
    sha256: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class RowCounts:
    """Number of rows of each table in a backup."""

    rows: Mapping[str, int]

    @property
    def total(self) -> int:
        """Number of rows of all tables."""
        return sum(self.rows.values())


def name_part(table: Table) -> str:
    """Return the name of a table's file in a backup."""
    return f"{table.name}.jsonl"


def allow_unpacked(packed: int) -> int:
    """Return the bytes to which a backup of `packed` bytes may grow when it is unpacked.

    Honest backups shrink to a tenth at most times; the format allows a thousandth, which is an attack.
    """
    return budget.BACKUP_BYTES + budget.BACKUP_RATIO * packed
