"""Write everything in the studio's store into one file; safe while the studio is open."""

from __future__ import annotations

import argparse
from pathlib import Path

from fillwright.cli.options import add_reporting, print_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.zip", help="the backup")
    add_store(parser)
    add_reporting(parser)


def add_store(parser: argparse.ArgumentParser) -> None:
    """The options that say which store."""
    parser.add_argument(
        "--folder", type=Path, metavar="DIR", help="where everything is kept (your data folder)"
    )
    parser.add_argument(
        "--store", default="", metavar="URL", help="postgresql://…; else the file of SQLite in it"
    )


def run(options: argparse.Namespace) -> int:
    """Write the file and say how much it holds."""
    from fillwright.store.archive import write_backup
    from fillwright.studio.serve import store_of

    counted = write_backup(store_of(options.folder, options.store), options.output)
    if options.json:
        print_json({"file": str(options.output), "rows": dict(counted.rows)})
    elif not options.quiet:
        print(f"{options.output}: {counted.total:,} entries, {counted.rows['take']:,} takes among them.")
    return 0
