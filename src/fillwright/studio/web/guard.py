"""Checks before every page: the host name, the size of what is sent, and what browsers may load."""

from __future__ import annotations

import re

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fillwright.store.takes import LARGEST_TAKE_BYTES

LARGEST_FORM_BYTES = 2_000_000
"""Most bytes of a form without a recording. Ours."""

LARGEST_BODY_BYTES = LARGEST_TAKE_BYTES + 1_000_000
"""Most bytes of any body: a take and the fields around it. Ours."""

_LONGEST_PATH = 1_000
"""Characters of a path; the longest of ours has about 300. Ours."""

_LONGEST_LENGTH = 20
"""Digits of a content-length header. Ours."""

_HOST = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[0-9A-Za-z._-]+)(?::[0-9]{1,5})?")

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "media-src 'self' blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
"""Content security policy of every page: it loads the studio's own files only."""

_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "microphone=(self), midi=(self), camera=(), geolocation=()",
    "cache-control": "no-store",
}


class Guard:
    """ASGI middleware that refuses unknown hosts, bad paths and large bodies, and adds headers."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str]) -> None:
        """Take the app to protect and the host names that are answered; empty for any."""
        self._app = app
        self._hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse the request, or pass it to the app."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal:
            status, sentence = refusal
            await PlainTextResponse(sentence, status_code=status)(scope, receive, _add_headers(send))
        else:
            await self._app(scope, limit_body(receive, LARGEST_BODY_BYTES), _add_headers(send))

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        """Return status and sentence of a request to refuse, None for any other."""
        headers = Headers(scope=scope)
        if self._hosts and not {_parse_host(host) for host in headers.getlist("host") or [""]} <= self._hosts:
            return 421, "This studio does not answer under that name. Open it as localhost, on its own machine."
        path = scope["path"]
        if len(path) > _LONGEST_PATH or not path.isprintable():
            return 404, "There is no such page."
        length = headers.get("content-length", "0")
        if not (length.isascii() and length.isdigit() and len(length) < _LONGEST_LENGTH):
            return 400, "The length of the request can't be read."
        if int(length) > LARGEST_BODY_BYTES:
            return 413, describe_size_limit(LARGEST_BODY_BYTES)
        return None


def describe_size_limit(most: int) -> str:
    """Return the sentence for a body that is too large."""
    if most < LARGEST_TAKE_BYTES:
        return f"That is too large. A form can have {most // 10**6} MB."
    return f"That is too large. A recording can have {LARGEST_TAKE_BYTES // 10**6} MB, about ten minutes."


def limit_body(receive: Receive, most: int) -> Receive:
    """Return a function that receives a body up to a limit, whatever its length header says."""
    received = 0

    async def receive_limited() -> Message:
        nonlocal received
        message = await receive()
        if message["type"] == "http.request":
            received += len(message.get("body", b""))
            if received > most:
                raise HTTPException(413, describe_size_limit(most))
        return message

    return receive_limited


def _parse_host(header: str) -> str:
    """Return a Host header without its port, "" if it is not valid."""
    match = _HOST.fullmatch(header)
    return match[1].casefold() if match else ""


def _add_headers(send: Send) -> Send:
    async def send_with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return send_with_headers
