"""Open the studio: series, students and takes in the browser, on this machine."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from fillwright.cli.options import add_reporting, print_json


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
    parser.add_argument("--no-browser", action="store_true", help="open no browser")
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Answer until stopped."""
    from fillwright.errors import StoreError
    from fillwright.studio.serve import data_folder, first_link, listening, serve, set_up
    from fillwright.studio.web.setup import LOCAL_HOSTS

    if not 0 < options.port < 65536:
        raise StoreError(f"{options.port} is no port; it lies between 1 and 65535.")
    if options.host and not options.school:
        raise StoreError("Without --school there are no accounts, so the studio answers this machine only.")
    with listening("0.0.0.0" if options.host else "127.0.0.1", options.port) as door:
        setup = set_up(
            options.folder or data_folder(),
            store=options.store,
            school=options.school,
            hosts=LOCAL_HOSTS | {name.casefold() for name in options.host},
            https=options.https,
        )
        address = f"http://localhost:{options.port}/"
        link = first_link(setup)
        _tell(options, address, address + link if link else None)
        if _has_windows() and not options.no_browser:
            _open_browser(address + link)
        serve(setup, door)
    return 0


def _tell(options: argparse.Namespace, address: str, begins: str | None) -> None:
    if options.json:
        print_json({"address": address, "first_teacher_begins_at": begins})
    elif not options.quiet:
        print(f"The studio is open at {address}  (Ctrl+C closes it)", flush=True)
        if begins:
            print(f"Nobody has an account yet; the first teacher begins at {begins}", flush=True)


def _has_windows() -> bool:
    """Whether a browser would open in a window; one in the terminal would stand in the way."""
    return sys.platform in ("win32", "darwin") or bool({"DISPLAY", "WAYLAND_DISPLAY"} & os.environ.keys())


def _open_browser(address: str) -> None:
    import webbrowser
    from threading import Thread

    Thread(target=webbrowser.open, args=(address,), daemon=True).start()
