"""Restore the studio from a backup, everything or nothing. Close the studio first."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_reporting, print_json
from fillwright.cli.studio.backup import add_store, describe_entries


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command."""
    parser.add_argument("backup", type=Path, metavar="FILE.zip", help="backup to restore")
    parser.add_argument("--replace", action="store_true", help="delete everything in the studio first")
    add_store(parser)
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Restore the backup and print how many entries it has."""
    from fillwright.store.archive import check_backup, restore_backup_file
    from fillwright.store.files.data_folder import open_studio_store

    check_backup(options.backup)  # all of it, before a store is made for it
    store = open_studio_store(options.folder, options.store, new=True)
    counts = restore_backup_file(store, options.backup, replace=options.replace)
    if options.json:
        print_json({"rows": dict(counts.rows)})
    elif not options.quiet:
        print(f"Restored {describe_entries(counts.total, counts.rows['take'])}.")
    return 0
