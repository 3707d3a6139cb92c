"""What holds for every test: finished sounds kept in a folder of the run's own; a server that rooms share."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from fillwright.sound.model.cache import CACHE_VARIABLE
from tests.needs import need
from tests.postgres import BIN, server


@pytest.fixture(scope="session", autouse=True)
def _own_shelf(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Iterator[None]:
    """One folder for all workers of a run; a sound made by one is read by the others."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if hasattr(request.config, "workerinput") else base) / "shelf"
    before = os.environ.get(CACHE_VARIABLE)
    os.environ[CACHE_VARIABLE] = str(folder)
    yield
    if before is None:
        del os.environ[CACHE_VARIABLE]
    else:
        os.environ[CACHE_VARIABLE] = before


@pytest.fixture(scope="session")
def postgres_url() -> Iterator[str]:
    """A server of PostgreSQL for the session."""
    need(BIN, "PostgreSQL's server (Debian's package postgresql)")
    with server() as url:
        yield url
