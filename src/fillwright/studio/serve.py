"""Run a studio: its folder, its secret, its server."""

from __future__ import annotations

import errno
import secrets
import socket
from pathlib import Path
from threading import Thread

import uvicorn

from fillwright.errors import OutputError, StoreError
from fillwright.store.accounts import find_first_teacher, has_any_account, invite
from fillwright.store.database import open_store
from fillwright.store.files.data_folder import STORE_FILE
from fillwright.store.files.private_files import make_private_folder
from fillwright.studio.app import make_app
from fillwright.studio.sounds.kit_sounds import load_all_layers
from fillwright.studio.web.addresses import Network
from fillwright.studio.web.connections import GuardedProtocol
from fillwright.studio.web.setup import LOCAL_HOSTS, Setup

_SECRET = "secret"
_SOUNDS = "sounds"
_SECRET_BYTES = 48
"""Random bytes of the secret that signs sessions. Ours."""

_BACKLOG = 128
"""Connections that wait until the server answers. Ours."""


def set_up(
    folder: Path,
    *,
    store: str = "",
    school: bool = False,
    hosts: frozenset[str] = LOCAL_HOSTS,
    https: bool = False,
    insecure: bool = False,
    proxies: tuple[Network, ...] = (),
) -> Setup:
    """Set up a studio in a folder.

    Args:
        folder: of all its data.
        store: URL of a PostgreSQL database; "" for SQLite in the folder.
        school: True for a studio with accounts.
        hosts: host names that are answered; empty for any.
        https: True if browsers reach it over HTTPS only, through a server in front of it.
        insecure: True to accept passwords from other computers without HTTPS.
        proxies: networks of trusted proxies.

    Raises:
        OutputError: if the folder can't be written.
        StoreError: if the store can't be opened.
    """
    try:
        make_private_folder(folder)
        (folder / _SOUNDS).mkdir(exist_ok=True)
        secret = _read_secret(folder / _SECRET)
    except OSError as error:
        raise OutputError(f'The folder "{folder}" can\'t be written: {error.strerror}.') from error
    return Setup(
        store=open_store(store or folder / STORE_FILE),
        packs=folder / "packs",
        sounds=folder / _SOUNDS,
        secret=secret,
        school=school,
        hosts=hosts,
        secure=https,
        insecure=insecure,
        proxies=proxies,
    )


def make_first_link(setup: Setup) -> str:
    """Make a one-time link for the first teacher of a school; return its path, "" if there are accounts.

    A teacher who used the studio alone before gets all of its data. Links of earlier starts stop working.
    """
    if not setup.school:
        return ""
    with setup.store.begin_writing() as connection:
        if has_any_account(connection):
            return ""
        secret = invite(connection, now=setup.clock(), teacher_number=find_first_teacher(connection))
        return f"invitation/{secret}"


def _read_secret(path: Path) -> str:
    """Read the secret that signs sessions; make one if there is none. Only the file's owner can read it."""
    try:
        with path.open("x", encoding="ascii") as file:
            path.chmod(0o600)
            file.write(secrets.token_urlsafe(_SECRET_BYTES))
    except FileExistsError:
        pass
    secret = path.read_text("ascii").strip()
    if len(secret) >= _SECRET_BYTES:
        return secret
    path.unlink()  # incomplete, because the program was killed while writing it: there are no sessions yet
    return _read_secret(path)


def listen_on(host: str, port: int) -> socket.socket:
    """Open a listening socket. Browsers that connect before `serve` are answered then.

    Raises:
        StoreError: if the port can't be used.
    """
    try:
        return socket.create_server((host, port), backlog=_BACKLOG)
    except OSError as error:
        in_use = error.errno == errno.EADDRINUSE
        reason = "is in use, perhaps by an open studio" if in_use else f"can't be used: {error.strerror}"
        raise StoreError(f"Port {port} {reason}; choose another with --port.") from error


def serve(setup: Setup, listener: socket.socket) -> None:
    """Answer until stopped, in one process, because running builds and sign-in tries are in its memory."""
    Thread(target=load_all_layers, name="kit", daemon=True).start()  # so that no page waits for sounds
    make_server(setup).run(sockets=[listener])


def make_server(setup: Setup) -> uvicorn.Server:
    """Make the server of a studio. The studio reads itself what proxies write."""
    config = uvicorn.Config(
        make_app(setup),
        http=GuardedProtocol,
        log_level="warning",
        server_header=False,
        date_header=False,
        proxy_headers=False,
    )
    return uvicorn.Server(config)
