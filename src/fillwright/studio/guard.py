"""What stands before every page: names it may be asked by, how much may be sent, what browsers may load."""

from __future__ import annotations

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fillwright.store.takes import LARGEST_TAKE_BYTES

LARGEST_BODY_BYTES = LARGEST_TAKE_BYTES + 1_000_000

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
    """Refuses strange hosts and bodies too large; adds the headers that every answer carries."""

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
        headers = Headers(scope=scope)
        with_headers = _adding(send)
        if self._hosts and _host(headers.get("host", "")) not in self._hosts:
            await PlainTextResponse("This studio answers on this machine only, as localhost.", status_code=421)(
                scope, receive, with_headers
            )
            return
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > LARGEST_BODY_BYTES:
            await _too_large(scope, receive, with_headers)
            return
        await self._app(scope, _counted(receive), with_headers)


async def _too_large(scope: Scope, receive: Receive, send: Send) -> None:
    most = LARGEST_TAKE_BYTES // 10**6
    text = f"That is too large; a recording may have {most} MB, about ten minutes."
    await PlainTextResponse(text, status_code=413)(scope, receive, send)


def _host(header: str) -> str:
    """A Host header without its port."""
    if header.startswith("["):
        return header.partition("]")[0] + "]"
    return header.partition(":")[0].casefold()


def _adding(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sending


def _counted(receive: Receive) -> Receive:
    """A body that says no length is still not read beyond the limit: it ends as if the visitor had left."""
    seen = 0

    async def receiving() -> Message:
        nonlocal seen
        message = await receive()
        if message["type"] == "http.request":
            seen += len(message.get("body", b""))
            if seen > LARGEST_BODY_BYTES:
                return {"type": "http.disconnect"}
        return message

    return receiving
