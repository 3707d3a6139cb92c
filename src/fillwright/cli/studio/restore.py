"""Put a backup into the studio's store, all of it or nothing; close the studio first."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_reporting, print_json
from fillwright.cli.studio.backup import add_store


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("backup", type=Path, metavar="FILE.zip", help="the backup")
    parser.add_argument("--replace", action="store_true", help="delete what is in the store first")
    add_store(parser)
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Restore and say how much there was."""
    from fillwright.store.archive import check_backup, read_backup
    from fillwright.studio.serve import store_of

    check_backup(options.backup)  # before a store is made for it
    store = store_of(options.folder, options.store, new=True)
    counted = read_backup(store, options.backup, replace=options.replace)
    if options.json:
        print_json({"rows": dict(counted.rows)})
    elif not options.quiet:
        print(f"Restored {counted.total:,} entries, {counted.rows['take']:,} takes among them.")
    return 0
