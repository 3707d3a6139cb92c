"""Open the studio in the browser: series, students and takes, on this computer."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from fillwright.cli.options import add_reporting, print_json

_DEFAULT_PORT = 8371
"""Port of the studio, not assigned to any service (IANA's registry, from memory). Ours."""

_MOST_PORTS = 65_535
"""Largest port number: 16 bits (RFC 9293, 3.1)."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of the command."""
    parser.add_argument(
        "--port",
        type=int,
        default=_DEFAULT_PORT,
        metavar="N",
        help=f"port of the address, 1 to {_MOST_PORTS} [{_DEFAULT_PORT}]",
    )
    parser.add_argument(
        "--folder", type=Path, metavar="DIR", help="folder of the studio's data [your user data folder]"
    )
    parser.add_argument(
        "--store", default="", metavar="URL", help="database of a school: postgresql://… [SQLite in the folder]"
    )
    parser.add_argument("--school", action="store_true", help="use accounts for teachers and students")
    parser.add_argument(
        "--host",
        action="append",
        default=[],
        metavar="NAME",
        help="with --school: host name under which other computers reach the studio; can be repeated",
    )
    parser.add_argument(
        "--https",
        action="store_true",
        help="with --school: browsers connect over HTTPS, through your own server",
    )
    parser.add_argument(
        "--insecure",
        action="store_true",
        help="with --host: accept passwords without HTTPS, although others on the network can read them",
    )
    parser.add_argument(
        "--trusted-proxy",
        action="append",
        default=[],
        metavar="ADDRESS",
        help="with --school: address of your own server, whose X-Forwarded-For counts; can be repeated",
    )
    parser.add_argument("--no-browser", action="store_true", help="don't open a browser")
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Serve the studio until stopped."""
    from fillwright.errors import StoreError
    from fillwright.store.files.data_folder import find_data_folder
    from fillwright.studio.serve import listen_on, make_first_link, serve, set_up
    from fillwright.studio.web.addresses import parse_proxy
    from fillwright.studio.web.setup import LOCAL_HOSTS

    if not 0 < options.port <= _MOST_PORTS:
        raise StoreError(f"{options.port} is not a valid port; use 1 to {_MOST_PORTS}.")
    if options.host and not options.school:
        raise StoreError("--host needs --school: without accounts the studio answers this computer only.")
    if options.insecure and (options.https or not options.host):
        raise StoreError("--insecure needs --host without --https; otherwise passwords are accepted anyway.")
    if options.trusted_proxy and not options.school:
        raise StoreError("--trusted-proxy needs --school: without accounts no one signs in.")
    proxies = tuple(parse_proxy(text) for text in options.trusted_proxy)
    hosts = LOCAL_HOSTS | {name.casefold() for name in options.host}
    with listen_on("127.0.0.1" if hosts == LOCAL_HOSTS else "0.0.0.0", options.port) as listener:
        setup = set_up(
            options.folder or find_data_folder(),
            store=options.store,
            school=options.school,
            hosts=hosts,
            https=options.https,
            insecure=options.insecure,
            proxies=proxies,
        )
        address = f"http://localhost:{options.port}/"
        link = make_first_link(setup)
        _print_address(options, address, address + link if link else None)
        _warn_about_passwords(accepted=setup.accepts_passwords, insecure=options.insecure)
        if _has_windows() and not options.no_browser:
            _open_browser(address + link)
        serve(setup, listener)
    return 0


def _print_address(options: argparse.Namespace, address: str, first_link: str | None) -> None:
    if options.json:
        print_json({"address": address, "first_teacher_begins_at": first_link})
    elif not options.quiet:
        print(f"The studio is open at {address}  (Ctrl+C closes it)", flush=True)
        if first_link:
            print(f"There are no accounts yet. The first teacher starts at {first_link}", flush=True)


def _warn_about_passwords(*, accepted: bool, insecure: bool) -> None:
    """Print a warning where other computers reach the studio without HTTPS."""
    if not accepted:
        print(
            "Passwords are refused, because other computers reach this studio without HTTPS: "
            "add --https behind your own HTTPS server, or --insecure.",
            file=sys.stderr,
            flush=True,
        )
    elif insecure:
        print("Others on the network can read passwords, because of --insecure.", file=sys.stderr, flush=True)


def _has_windows() -> bool:
    """Return True if a browser opens in a window of its own instead of this terminal."""
    return sys.platform in ("win32", "darwin") or bool({"DISPLAY", "WAYLAND_DISPLAY"} & os.environ.keys())


def _open_browser(address: str) -> None:
    import webbrowser
    from threading import Thread

    Thread(target=webbrowser.open, args=(address,), daemon=True).start()
