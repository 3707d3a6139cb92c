"""Slow, half-open and too many connections, with sockets of our own on this machine."""

from __future__ import annotations

import socket
import threading
import time
from contextlib import ExitStack, contextmanager

import pytest
import uvicorn

from fillwright.studio.serve import make_server
from fillwright.studio.web import connections
from fillwright.studio.web.connections import GuardedProtocol

HEAD = b"GET /big HTTP/1.1\r\nhost: localhost\r\n\r\n"
POST = b"POST / HTTP/1.1\r\nhost: localhost\r\ncontent-length: 400000\r\n\r\n"
PATIENCE = 10.0
"""Seconds after which a test gives up; a limit is 1."""


async def _answer(scope, receive, send):
    """Answer with the number of bytes that were sent, and with 20 MB for /big."""
    size, more = 0, True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            return
        size += len(message.get("body", b""))
        more = message.get("more_body", False)
    body = bytes(20_000_000) if scope["path"] == "/big" else b"%d\n" % size
    headers = [(b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": body})


@pytest.fixture
def quick(monkeypatch):
    """Short limits."""
    for name, value in (("HEADER", 1), ("BODY", 1), ("ANSWER", 1), ("_CHECK", 0.05)):
        monkeypatch.setattr(connections, f"{name}_SECONDS", value)
    monkeypatch.setattr(connections, "MOST_CONNECTIONS", 8)


@pytest.fixture
def server(quick):
    """Serve, and return the server and its port."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        config = uvicorn.Config(
            _answer, http=GuardedProtocol, lifespan="off", log_level="critical", timeout_keep_alive=1
        )
        running = uvicorn.Server(config)
        thread = threading.Thread(target=running.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        deadline = time.monotonic() + PATIENCE
        while not running.started and time.monotonic() < deadline:
            time.sleep(0.01)
        yield running, listener.getsockname()[1]
        running.should_exit = True
        thread.join(timeout=PATIENCE)
        assert not thread.is_alive()


@contextmanager
def _connect(server):
    with socket.create_connection(("127.0.0.1", server[1]), timeout=PATIENCE) as client:
        yield client


def _read_all(client):
    """Read until the server closes."""
    content = b""
    try:
        while block := client.recv(65_536):
            content += block
    except ConnectionResetError:
        pass
    return content


def _read_short(client):
    """Read an answer whose body is on a line of its own."""
    content = b""
    while not content.partition(b"\r\n\r\n")[2].endswith(b"\n") and (block := client.recv(1_000)):
        content += block
    return content


def _wait_for_none(server):
    """Wait until the server has no connection left."""
    deadline = time.monotonic() + PATIENCE
    while server[0].server_state.connections:
        assert time.monotonic() < deadline
        time.sleep(0.02)


@pytest.mark.parametrize("sent", [b"", b"GET", HEAD[:-2], b"POST / HTTP/1.1\r\nhost: x\r\nx: "])
def test_a_connection_that_sends_no_whole_head_is_closed_with_a_sentence(server, sent):
    with _connect(server) as client:
        client.sendall(sent)
        start = time.monotonic()
        answer = _read_all(client)
        assert 0.5 < time.monotonic() - start < PATIENCE
        assert answer.startswith(b"HTTP/1.1 408 ")
        assert answer.endswith(b"The request took too long. Send it again.")
    _wait_for_none(server)


def test_a_head_that_trickles_is_closed_too(server):
    with _connect(server) as client:
        client.settimeout(0.05)
        start, answer = time.monotonic(), b""
        client.sendall(b"GET / HTTP/1.1\r\nhost: localhost\r\nx: ")
        while not answer and time.monotonic() - start < PATIENCE:
            try:
                client.sendall(b"a")
                answer = client.recv(1_000)
            except TimeoutError:
                continue
        assert answer.startswith(b"HTTP/1.1 408 ")


def test_a_body_that_stops_is_closed_with_a_sentence(server):
    with _connect(server) as client:
        client.sendall(POST + b"x" * 100_000)
        assert _read_all(client).startswith(b"HTTP/1.1 408 ")
    _wait_for_none(server)


def test_a_body_that_is_slow_but_steady_arrives(server):
    with _connect(server) as client:
        client.sendall(POST)
        for _ in range(20):
            client.sendall(b"x" * 20_000)
            time.sleep(0.1)  # 2 s in all, twice the limit for a stop
        assert _read_short(client).endswith(b"\n400000\n")


def test_a_visitor_who_keeps_asking_is_not_closed(server):
    with _connect(server) as client:
        for _ in range(20):
            client.sendall(HEAD.replace(b"/big", b"/"))
            assert _read_short(client).endswith(b"\n0\n")
            time.sleep(0.1)


def test_a_reader_who_takes_nothing_is_closed(server):
    with _connect(server) as client:
        client.sendall(HEAD)
        assert client.recv(100).startswith(b"HTTP/1.1 200 ")  # then nothing more is taken
        _wait_for_none(server)
        assert len(_read_all(client)) < 20_000_000


def test_half_open_connections_keep_nobody_out(server):
    with ExitStack() as stack:
        for _ in range(24):
            stack.enter_context(_connect(server)).sendall(b"GET / HT")
        assert len(server[0].server_state.connections) <= 10
        with _connect(server) as client:
            client.sendall(HEAD.replace(b"/big", b"/"))
            assert _read_short(client).startswith(b"HTTP/1.1 200 ")


def test_too_many_that_all_work_are_refused_with_a_sentence(server):
    with ExitStack() as stack:
        for _ in range(8):
            stack.enter_context(_connect(server)).sendall(POST + b"x" * 100)
        deadline = time.monotonic() + 0.4
        while time.monotonic() < deadline and len(server[0].server_state.connections) < 8:
            time.sleep(0.01)
        with _connect(server) as client:
            assert _read_all(client).startswith(b"HTTP/1.1 503 ")
    _wait_for_none(server)


def test_a_studio_is_served_with_these_limits(school):
    config = make_server(school.setup).config
    assert config.http is GuardedProtocol
    assert not config.proxy_headers
