"""A school for each test."""

from __future__ import annotations

import pytest

from tests.studio import Schools, silence


@pytest.fixture(scope="session")
def schools(tmp_path_factory):
    """Makes them, on SQLite."""
    made = Schools(tmp_path_factory.mktemp("schools"))
    yield made
    made.close()


@pytest.fixture
def school(schools):
    """One that nobody has touched."""
    with schools.one() as made:
        yield made


@pytest.fixture
def ada(school):
    """A browser in which Ada is signed in."""
    with school.browser("ada") as browser:
        yield browser


@pytest.fixture
def silent(monkeypatch):
    """The kit's sounds are empty; making them takes long."""
    silence(monkeypatch)
