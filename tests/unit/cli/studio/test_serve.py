"""The command that opens the studio."""

from __future__ import annotations

import json
import socket
import webbrowser

import pytest

from fillwright.cli.main import main
from fillwright.studio import serve as serving


@pytest.fixture
def port():
    """One that nobody listens at."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        return free.getsockname()[1]


@pytest.fixture(autouse=True)
def opened(monkeypatch):
    """Addresses that a browser was opened at; there are no windows unless a test says so."""
    found = []
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setattr(webbrowser, "open", found.append)
    return found


@pytest.fixture
def served(monkeypatch):
    """What would be served: the setup, host and port."""
    found = []

    def stand_in(setup, door):
        found.append((setup, *door.getsockname()))
        setup.store.close()

    monkeypatch.setattr(serving, "serve", stand_in)
    return found


def test_alone_it_answers_this_machine_only(served, tmp_path, capsys, port):
    assert main(["serve", "--folder", str(tmp_path / "new"), "--port", str(port)]) == 0
    ((setup, *where),) = served
    assert (where, setup.school, setup.secure) == (["127.0.0.1", port], False, False)
    assert setup.hosts == {"localhost", "127.0.0.1", "[::1]"}
    assert capsys.readouterr().out == f"The studio is open at http://localhost:{port}/  (Ctrl+C closes it)\n"
    assert (tmp_path / "new" / "studio.db").is_file()


def test_a_school_says_how_the_first_teacher_begins(served, tmp_path, capsys, port):
    words = ["serve", "--folder", str(tmp_path), "--school", "--host", "Drums.example", "--https"]
    words += ["--trusted-proxy", "10.0.0.2"]
    assert main([*words, "--port", str(port)]) == 0
    ((setup, *where),) = served
    assert (where, setup.school, setup.secure) == (["0.0.0.0", port], True, True)
    assert "drums.example" in setup.hosts
    assert [str(network) for network in setup.proxies] == ["10.0.0.2/32"]
    link = capsys.readouterr().out.splitlines()[1]
    assert f"first teacher starts at http://localhost:{port}/invitation/" in link
    assert main([*words, "--port", str(port), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["address"] == f"http://localhost:{port}/"
    assert "/invitation/" in told["first_teacher_begins_at"]


@pytest.mark.parametrize(
    ("words", "accepted", "warning"),
    [
        ([], True, ""),
        (["--host", "localhost"], True, ""),
        (["--host", "drums.example", "--https"], True, ""),
        (["--host", "drums.example"], False, "Passwords are refused"),
        (["--host", "drums.example", "--insecure"], True, "Others on the network can read passwords"),
    ],
)
def test_passwords_without_https_are_refused_unless_allowed(
    served, tmp_path, capsys, port, words, accepted, warning
):
    assert main(["serve", "--school", "--quiet", "--folder", str(tmp_path), "--port", str(port), *words]) == 0
    ((setup, host, _),) = served
    assert setup.accepts_passwords == accepted
    assert (host == "127.0.0.1") == ("drums.example" not in words)
    printed = capsys.readouterr().err
    assert printed.startswith(warning)
    assert printed.count("\n") == bool(warning)


def test_a_browser_is_opened_where_there_are_windows(served, opened, tmp_path, monkeypatch, port):
    words = ["serve", "--quiet", "--folder", str(tmp_path), "--port", str(port)]
    assert main(words) == 0
    assert opened == []
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setattr("threading.Thread.start", lambda thread: thread.run())
    assert main([*words, "--no-browser"]) == 0
    assert opened == []
    assert main(words) == 0
    assert opened == [f"http://localhost:{port}/"]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["--port", "0"], "0 is not a valid port; use 1 to 65535."),
        (["--port", "65536"], "65536 is not a valid port"),
        (["--port", "x"], "invalid int value"),
        (["--host", "drums.example"], "--host needs --school"),
        (["--trusted-proxy", "10.0.0.2"], "--trusted-proxy needs --school"),
        (["--school", "--trusted-proxy", "proxy"], '"proxy" is not an address; write one such as 10.0.0.2'),
        (["--school", "--insecure"], "--insecure needs --host"),
        (["--school", "--host", "x", "--https", "--insecure"], "--insecure needs --host without --https"),
    ],
)
def test_what_can_not_be_served_is_told_and_nothing_is_made(served, tmp_path, capsys, words, why):
    assert main(["serve", "--folder", str(tmp_path / "new"), *words]) == 2
    assert why in capsys.readouterr().err
    assert served == []
    assert not (tmp_path / "new").exists()


def test_a_port_that_is_taken_is_one_sentence(served, tmp_path, capsys):
    with socket.create_server(("127.0.0.1", 0)) as other:
        taken = other.getsockname()[1]
        assert main(["serve", "--folder", str(tmp_path / "new"), "--port", str(taken)]) == 2
    assert capsys.readouterr().err.startswith(f"Port {taken} is in use, perhaps by an open studio")
    assert served == []
    assert not (tmp_path / "new").exists()


def test_a_folder_that_can_not_be_made_is_one_sentence(served, tmp_path, capsys, port):
    (tmp_path / "file").write_text("")
    folder = str(tmp_path / "file" / "in")
    assert main(["serve", "--quiet", "--folder", folder, "--port", str(port)]) == 2
    assert "can't be written" in capsys.readouterr().err
    assert served == []
