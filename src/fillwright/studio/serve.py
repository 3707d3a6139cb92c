"""Running a studio: its folder, its secret, its server."""

from __future__ import annotations

import errno
import secrets
import socket
from pathlib import Path
from threading import Thread

import platformdirs
import uvicorn

from fillwright.errors import OutputError, StoreError
from fillwright.store.accounts import any_account, first_teacher, invite
from fillwright.store.database import Store, open_store
from fillwright.studio.app import make_app
from fillwright.studio.sounds.kit_sounds import make_all
from fillwright.studio.web.setup import LOCAL_HOSTS, Setup

_SECRET = "secret"
_STORE = "studio.db"
_SOUNDS = "sounds"
_SECRET_BYTES = 48
_BACKLOG = 128


def set_up(
    folder: Path,
    *,
    store: str = "",
    school: bool = False,
    hosts: frozenset[str] = LOCAL_HOSTS,
    https: bool = False,
) -> Setup:
    """Make a studio's folder ready.

    Args:
        folder: for everything that is kept.
        store: a URL of PostgreSQL; "" for SQLite in the folder.
        school: whether there are accounts.
        hosts: names under which it may be asked; empty for any.
        https: whether browsers reach it over HTTPS only, by a server in front of it.

    Raises:
        OutputError: where the folder can't be written.
        StoreError: where the store can't be opened.
    """
    try:
        (folder / _SOUNDS).mkdir(parents=True, exist_ok=True)
        secret = _secret(folder / _SECRET)
    except OSError as error:
        raise OutputError(f'The folder "{folder}" can\'t be written: {error.strerror}.') from error
    return Setup(
        store=open_store(store or folder / _STORE),
        packs=folder / "packs",
        sounds=folder / _SOUNDS,
        secret=secret,
        school=school,
        hosts=hosts,
        secure=https,
    )


def data_folder() -> Path:
    """Where a studio keeps everything unless told otherwise."""
    return Path(platformdirs.user_data_path("fillwright"))


def store_of(folder: Path | None, store: str, *, new: bool = False) -> Store:
    """The store that a studio's folder or a URL names.

    Args:
        folder: of the studio; None for the data folder.
        store: a URL; "" for the file in the folder.
        new: whether it is made where there is none.

    Raises:
        StoreError: where it can't be opened, or is not there.
    """
    path = (folder or data_folder()) / _STORE
    if not (store or new or path.is_file()):
        raise StoreError(f'There is no studio in "{path.parent}"; name its folder with --folder.')
    return open_store(store or path)


def first_link(setup: Setup) -> str:
    """The path of a one-time link for the first teacher of a school; "" where there are accounts already.

    Who worked alone before finds everything on their desk; links of earlier starts no longer work.
    """
    if not setup.school:
        return ""
    with setup.store.writing() as connection:
        if any_account(connection):
            return ""
        secret = invite(connection, now=setup.clock(), teacher_number=first_teacher(connection))
        return f"invitation/{secret}"


def _secret(path: Path) -> str:
    """The secret that signs sessions, made where there is none; only its owner may read it."""
    try:
        with path.open("x", encoding="ascii") as file:
            path.chmod(0o600)
            file.write(secrets.token_urlsafe(_SECRET_BYTES))
    except FileExistsError:
        pass
    found = path.read_text("ascii").strip()
    if len(found) >= _SECRET_BYTES:
        return found
    path.unlink()  # broken off while it was written: nobody has a session yet
    return _secret(path)


def listening(host: str, port: int) -> socket.socket:
    """A door that waits for browsers; whoever knocks before `serve` is let in then.

    Raises:
        StoreError: where nobody can listen there.
    """
    try:
        return socket.create_server((host, port), backlog=_BACKLOG)
    except OSError as error:
        taken = error.errno == errno.EADDRINUSE
        why = (
            "is taken, perhaps by a studio that is open already"
            if taken
            else f"can't be used: {error.strerror}"
        )
        raise StoreError(f"Port {port} {why}; name another with --port.") from error


def serve(setup: Setup, door: socket.socket) -> None:
    """Answer until stopped, in one process: builds that go on and tries at signing in are known to it alone."""
    Thread(target=make_all, name="kit", daemon=True).start()  # so that pages wait for no sound
    config = uvicorn.Config(make_app(setup), log_level="warning", server_header=False, date_header=False)
    uvicorn.Server(config).run(sockets=[door])
