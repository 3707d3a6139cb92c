"""A PostgreSQL server of the tests' own, from Debian's packages, in a folder of its own, on a socket only."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
from psycopg import sql

_PLACES = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
BIN = next((place for place in _PLACES if (place / "initdb").is_file()), None)
_PORT = "54329"


@contextmanager
def server() -> Iterator[str]:
    """Start one; gives the URL of its empty database, and stops it in the end."""
    assert BIN is not None
    folder = Path(tempfile.mkdtemp(prefix="fillwright-postgres-"))
    root = os.geteuid() == 0
    if root:  # it refuses to run as root
        shutil.chown(folder, "postgres", "postgres")
    user = ("setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups") if root else ()
    data = folder / "data"

    def run(*words: str) -> None:
        subprocess.run([*user, *words], check=True, capture_output=True, cwd=folder, timeout=120)

    try:
        run(str(BIN / "initdb"), "-D", str(data), "-U", "studio", "--auth=trust", "-E", "UTF8", "--no-sync")
        options = f"-k {folder} -c listen_addresses='' -p {_PORT} -c fsync=off -c max_connections=60"
        run(str(BIN / "pg_ctl"), "-D", str(data), "-l", str(folder / "log"), "-w", "-o", options, "start")
        try:
            yield f"postgresql://studio@/postgres?host={folder}&port={_PORT}"
        finally:
            run(str(BIN / "pg_ctl"), "-D", str(data), "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def database(server_url: str, name: str, *, like: str = "template0") -> Iterator[str]:
    """A database of its own on a server, empty or a copy; gives its URL, and drops it in the end."""
    with psycopg.connect(server_url, autocommit=True) as connection:
        made = sql.SQL("CREATE DATABASE {} TEMPLATE {}")
        connection.execute(made.format(sql.Identifier(name), sql.Identifier(like)))
    try:
        yield server_url.replace("/postgres?", f"/{name}?")
    finally:
        with psycopg.connect(server_url, autocommit=True) as connection:
            connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))
