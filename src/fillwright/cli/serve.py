"""Open the studio: series, students and takes in the browser, on this machine."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("--port", type=int, default=8371, metavar="N", help="where it answers (8371)")
    parser.add_argument(
        "--folder", type=Path, metavar="DIR", help="where everything is kept (your data folder)"
    )
    parser.add_argument(
        "--store", default="", metavar="URL", help="postgresql://… for a school; else a file of SQLite"
    )
    parser.add_argument("--school", action="store_true", help="accounts for teachers and students")
    parser.add_argument(
        "--host",
        action="append",
        default=[],
        metavar="NAME",
        help="a further name under which it may be asked; with --school it then also answers other machines",
    )
    parser.add_argument(
        "--https", action="store_true", help="browsers reach it over HTTPS, by a server of yours in front of it"
    )
    parser.add_argument("--quiet", action="store_true", help="say nothing unless something is wrong")


def run(options: argparse.Namespace) -> int:
    """Answer until stopped."""
    from fillwright.errors import StoreError
    from fillwright.studio.serve import data_folder, first_link, serve, set_up
    from fillwright.studio.setup import LOCAL_HOSTS

    if not 0 < options.port < 65536:
        raise StoreError(f"{options.port} is no port; it lies between 1 and 65535.")
    if options.host and not options.school:
        raise StoreError("Without --school there are no accounts, so the studio answers this machine only.")
    names = LOCAL_HOSTS | {name.casefold() for name in options.host}
    setup = set_up(
        options.folder or data_folder(),
        store=options.store,
        school=options.school,
        hosts=names,
        https=options.https,
    )
    address = f"http://localhost:{options.port}/"
    if not options.quiet:
        print(f"The studio is open at {address}  (Ctrl+C closes it)", flush=True)
        link = first_link(setup)
        if link:
            print(f"Nobody has an account yet; the first teacher begins at {address}{link}", flush=True)
    serve(setup, host="0.0.0.0" if options.host else "127.0.0.1", port=options.port)
    return 0
