"""A PostgreSQL server of the tests' own, from Debian's packages, in a folder of its own, on a socket only."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

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
