"""The command that opens the studio."""

from __future__ import annotations

import pytest

from fillwright.cli.main import main
from fillwright.studio import serve as serving


@pytest.fixture
def served(monkeypatch):
    """What would be served, and where."""
    found = []

    def serve(setup, *, host, port):
        found.append((setup, host, port))
        setup.store.close()

    monkeypatch.setattr(serving, "serve", serve)
    return found


def test_alone_it_answers_this_machine_only(served, tmp_path, capsys):
    assert main(["serve", "--folder", str(tmp_path), "--port", "8372"]) == 0
    setup, host, port = served[0]
    assert (host, port, setup.school, setup.secure) == ("127.0.0.1", 8372, False, False)
    assert setup.hosts == {"localhost", "127.0.0.1", "[::1]"}
    assert "http://localhost:8372/" in capsys.readouterr().out


def test_a_school_says_how_the_first_teacher_begins(served, tmp_path, capsys):
    words = ["serve", "--folder", str(tmp_path), "--school", "--host", "Drums.example", "--https"]
    assert main(words) == 0
    setup, host, _ = served[0]
    assert (host, setup.school, setup.secure) == ("0.0.0.0", True, True)
    assert "drums.example" in setup.hosts
    assert "/invitation/" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--port", "0"], "0 is no port"),
        (["--host", "drums.example"], "Without --school there are no accounts"),
    ],
)
def test_what_can_not_be_served_is_said(served, tmp_path, capsys, words, sentence):
    assert main(["serve", "--folder", str(tmp_path), *words]) == 2
    assert sentence in capsys.readouterr().err
    assert not served
