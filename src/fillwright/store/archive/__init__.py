"""Backups: everything in a store in one zip, read strictly, restored completely or not at all."""

from fillwright.store.archive.contents import MANIFEST, RowCounts
from fillwright.store.archive.reading import check_backup
from fillwright.store.archive.restoring import restore_backup, restore_backup_file
from fillwright.store.archive.writing import write_backup, write_backup_file

__all__ = [
    "MANIFEST",
    "RowCounts",
    "check_backup",
    "restore_backup",
    "restore_backup_file",
    "write_backup",
    "write_backup_file",
]
