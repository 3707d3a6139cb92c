"""A browser for tests that speaks to an app without a server between, and can send what no browser would."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import unquote_to_bytes, urlencode

from starlette.datastructures import Headers
from starlette.types import ASGIApp


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came back; `broke` is the error where something did."""

    status: int
    headers: Headers
    content: bytes
    broke: Exception | None = None

    @property
    def text(self) -> str:
        return self.content.decode("utf-8", "replace")


class Browser:
    """Keeps its cookies, follows nothing."""

    def __init__(self, app: ASGIApp, *, host: str = "localhost", address: str = "192.0.2.7") -> None:
        self._app, self._address = app, address
        self._loop = asyncio.new_event_loop()
        self.headers: dict[str, str] = {"host": host}
        self.cookies: dict[str, str] = {}

    def get(self, path: str, *, headers: Mapping[str, str] | None = None, method: str = "GET") -> Answer:
        """Ask for a page, its path as it stands in an address."""
        return self.send_request(method, path, headers=headers or {})

    def post(
        self, path: str, fields: Mapping[str, str] | None = None, *, headers: Mapping[str, str] | None = None
    ) -> Answer:
        """Send a form."""
        typed = {"content-type": "application/x-www-form-urlencoded", **(headers or {})}
        return self.send_request("POST", path, headers=typed, body=[urlencode(fields or {}).encode("ascii")])

    def send_request(
        self, method: str, path: str, *, headers: Mapping[str, str], body: Iterable[bytes] = ()
    ) -> Answer:
        """Send anything; without a content-length among the headers the body has none."""
        given = {**self.headers, **headers}
        if self.cookies:
            given.setdefault("cookie", "; ".join(f"{name}={value}" for name, value in self.cookies.items()))
        raw_path, _, query = path.partition("?")
        scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": method,
            "scheme": "http",
            "path": unquote_to_bytes(raw_path).decode("utf-8", "replace"),
            "raw_path": raw_path.encode("utf-8", "replace"),
            "query_string": query.encode("utf-8", "replace"),
            "root_path": "",
            "headers": [
                (name.lower().encode("latin-1", "replace"), value.encode("latin-1", "replace"))
                for name, value in given.items()
            ],
            "client": (self._address, 50_000),
            "server": ("127.0.0.1", 80),
        }
        return self._loop.run_until_complete(self._answer(scope, list(body)))

    async def _answer(self, scope: dict[str, Any], body: list[bytes]) -> Answer:
        sent: list[Any] = []
        blocks = [*body, b""]
        left = len(blocks)

        async def receive() -> dict[str, Any]:
            nonlocal left
            if not left:
                await asyncio.sleep(3600)
            left -= 1
            return {"type": "http.request", "body": blocks[-left - 1], "more_body": left > 0}

        async def send(message: Any) -> None:
            sent.append(message)

        broke: Exception | None = None
        try:
            await self._app(scope, receive, send)
        except Exception as error:
            broke = error
        if not sent:
            return Answer(status=599, headers=Headers({}), content=b"", broke=broke)
        headers = Headers(raw=sent[0]["headers"])
        for line in headers.getlist("set-cookie"):
            self.cookies |= {name: morsel.value for name, morsel in SimpleCookie(line).items()}
        content = b"".join(message.get("body", b"") for message in sent[1:])
        return Answer(status=sent[0]["status"], headers=headers, content=content, broke=broke)

    def close(self) -> None:
        """Let go of the loop."""
        self._loop.run_until_complete(self._loop.shutdown_default_executor())
        self._loop.close()
