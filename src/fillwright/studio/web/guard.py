"""What stands before every page: names it may be asked by, how much may be sent, what browsers may load."""

from __future__ import annotations

import re

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fillwright.store.takes import LARGEST_TAKE_BYTES

LARGEST_FORM_BYTES = 2_000_000
"""The most that a form without a recording may have."""

LARGEST_BODY_BYTES = LARGEST_TAKE_BYTES + 1_000_000
_LONGEST_PATH = 1_000
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
"""What a page may load: nothing that is not our own."""

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
    """Refuses strange hosts, paths and bodies too large; adds the headers that every answer carries."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str]) -> None:
        """Before an app, for these hosts; empty for any."""
        self._app = app
        self._hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or let the app answer."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal:
            status, sentence = refusal
            await PlainTextResponse(sentence, status_code=status)(scope, receive, _adding(send))
        else:
            await self._app(scope, limited(receive, LARGEST_BODY_BYTES), _adding(send))

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        """Status and sentence for what no page is asked."""
        headers = Headers(scope=scope)
        if self._hosts and not {_host(one) for one in headers.getlist("host") or [""]} <= self._hosts:
            return 421, "This studio does not answer under that name; ask it as localhost, on its own machine."
        path = scope["path"]
        if len(path) > _LONGEST_PATH or not path.isprintable():
            return 404, "There is no such page."
        length = headers.get("content-length", "0")
        if not (length.isascii() and length.isdigit() and len(length) < 20):
            return 400, "The length of what was sent can't be read."
        if int(length) > LARGEST_BODY_BYTES:
            return 413, too_large(LARGEST_BODY_BYTES)
        return None


def too_large(most: int) -> str:
    """The sentence for a body too large."""
    if most < LARGEST_TAKE_BYTES:
        return f"That is too large; a form may have {most // 10**6} MB."
    return f"That is too large; a recording may have {LARGEST_TAKE_BYTES // 10**6} MB, about ten minutes."


def limited(receive: Receive, most: int) -> Receive:
    """A body that is not read beyond a limit, whatever length it said or did not say."""
    seen = 0

    async def receiving() -> Message:
        nonlocal seen
        message = await receive()
        if message["type"] == "http.request":
            seen += len(message.get("body", b""))
            if seen > most:
                raise HTTPException(413, too_large(most))
        return message

    return receiving


def _host(header: str) -> str:
    """A Host header without its port, "" for what is none."""
    found = _HOST.fullmatch(header)
    return found[1].casefold() if found else ""


def _adding(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sending
