"""Connections that are slow or half open: they are closed in time, and there are only so many."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

MOST_CONNECTIONS = 400
"""Connections at a time; a browser opens six, and the system allows about 1,000 open files. Ours."""

HEADER_SECONDS = 10.0
"""Time for the head of a request, from the connection or the last answer on. Ours."""

BODY_SECONDS = 20.0
"""Time in which LEAST_BODY_BYTES of a body must arrive. Ours."""

LEAST_BODY_BYTES = 20_000
"""Bytes of a body in BODY_SECONDS: 8 kbit/s, far below any network in use. Ours, not measured."""

ANSWER_SECONDS = 30.0
"""Time in which a visitor must take what waits to be sent, about 64 kB. Ours."""

_CHECK_SECONDS = 1.0
"""Time between two looks at a connection. Ours."""

_TOO_SLOW = (408, "Request Timeout", "The request took too long. Send it again.")
"""Status and phrase (RFC 9110, 15.5.9) and sentence for a visitor who is too slow."""

_TOO_MANY = (503, "Service Unavailable", "Too many people are connected. Try again in a minute.")
"""Status and phrase (RFC 9110, 15.6.4) and sentence for a connection beyond the limit."""


class GuardedProtocol(H11Protocol):
    """HTTP/1.1 as uvicorn speaks it, with time limits and a limit on the number of connections. Mutable."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        """Take what uvicorn gives to a connection."""
        super().__init__(*arguments, **options)
        self._since = 0.0  # time, of the event loop, from which the current wait counts
        self._bytes = 0  # of a body, since then
        self._wait: tuple[str, object] = ("", None)  # what for, and the latest request
        self._check: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Start to watch a connection; close it if there are too many."""
        super().connection_made(transport)
        if len(self.connections) > MOST_CONNECTIONS and not self._make_place():
            self._refuse(_TOO_MANY)
            return
        self._since = self.loop.time()
        self._wait = ("head", None)
        self._check = self.loop.call_later(_CHECK_SECONDS, self._look)

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop watching."""
        if self._check is not None:
            self._check.cancel()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Count the bytes of a body."""
        self._bytes += len(data)
        super().data_received(data)

    @property
    def waits_for_head(self) -> bool:
        """True until the head of a request has arrived, and again after its answer."""
        return self.cycle is None or bool(self.cycle.response_complete)

    @property
    def waiting_since(self) -> float:
        """Time, of the event loop, from which the current wait counts."""
        return self._since

    def _find_state(self) -> str:
        """Return what the connection waits for: "head", "body", "reader" or, for the studio itself, ""."""
        if self.flow.write_paused:
            return "reader"
        if self.waits_for_head:
            return "head"
        return "body" if self.cycle.more_body and not self.flow.read_paused else ""

    def _look(self) -> None:
        """Close the connection if it waits too long for its visitor; otherwise look again in a second."""
        now, state = self.loop.time(), self._find_state()
        if self._wait != (state, self.cycle) or not state:
            self._wait, self._since, self._bytes = (state, self.cycle), now, 0
        waited = now - self._since
        if state == "reader" and waited > ANSWER_SECONDS:
            self.transport.abort()
        elif state == "head" and waited > HEADER_SECONDS:
            self._refuse(_TOO_SLOW)
        elif state == "body" and waited > BODY_SECONDS:
            if self._bytes < LEAST_BODY_BYTES:
                self._refuse(_TOO_SLOW)
            self._since, self._bytes = now, 0
        self._check = self.loop.call_later(_CHECK_SECONDS, self._look)

    def _make_place(self) -> bool:
        """Close the connection that waits longest for a request; return False if none waits."""
        waiting = [
            other
            for other in self.connections - {self}
            if isinstance(other, GuardedProtocol) and other.waits_for_head and not other.transport.is_closing()
        ]
        if not waiting:
            return False
        min(waiting, key=lambda other: other.waiting_since).transport.abort()
        return True

    def _refuse(self, refusal: tuple[int, str, str]) -> None:
        """Answer with a sentence, if no answer has begun, and close the connection."""
        status, phrase, sentence = refusal
        if self.transport.is_closing():
            self.transport.abort()  # it was closed before, and its visitor takes nothing
            return
        if self.waits_for_head or not self.cycle.response_started:
            head = f"HTTP/1.1 {status} {phrase}\r\ncontent-type: text/plain; charset=utf-8\r\n"
            length = f"content-length: {len(sentence)}\r\nconnection: close\r\n\r\n"
            self.transport.write(f"{head}{length}{sentence}".encode("ascii"))
        self.transport.close()
