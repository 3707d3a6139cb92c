"""Back up everything in the studio into one file. The studio can stay open."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_reporting, print_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command."""
    parser.add_argument(
        "-o", "--output", type=Path, required=True, metavar="FILE.zip", help="file to write the backup to"
    )
    add_store(parser)
    add_reporting(parser)


def add_store(parser: argparse.ArgumentParser) -> None:
    """Add the options that name the store."""
    parser.add_argument(
        "--folder", type=Path, metavar="DIR", help="folder of the studio's data [your user data folder]"
    )
    parser.add_argument(
        "--store", default="", metavar="URL", help="database of a school: postgresql://… [SQLite in the folder]"
    )


def run(options: argparse.Namespace) -> int:
    """Write the backup and print how many entries it has."""
    from fillwright.store.archive import write_backup_file
    from fillwright.store.files.data_folder import open_studio_store

    counts = write_backup_file(open_studio_store(options.folder, options.store), options.output)
    if options.json:
        print_json({"file": str(options.output), "rows": dict(counts.rows)})
    elif not options.quiet:
        print(f"{options.output}: {describe_entries(counts.total, counts.rows['take'])}.")
    return 0


def describe_entries(total: int, takes: int) -> str:
    """Return how many entries a backup has, and how many of them are takes.

    >>> describe_entries(1_200, 7), describe_entries(12, 0), describe_entries(1, 0)
    ('1,200 entries, 7 of them takes', '12 entries and no takes', '1 entry and no takes')
    """
    entries = f"{total:,} {'entry' if total == 1 else 'entries'}"
    return f"{entries}, {takes:,} of them takes" if takes else f"{entries} and no takes"
