"""The app: every page of the table, behind its guard."""

from __future__ import annotations

import logging
from http import HTTPStatus
from importlib.resources import files

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Scope

from fillwright.studio.routes import PAGES
from fillwright.studio.web.guard import Guard
from fillwright.studio.web.render import page
from fillwright.studio.web.request import Ask, endpoint
from fillwright.studio.web.setup import Setup
from fillwright.studio.web.visitor import visitor

_LOG = logging.getLogger("fillwright.studio")


_SENTENCES = {
    HTTPStatus.NOT_FOUND.phrase: "There is no such page.",
    HTTPStatus.UNAUTHORIZED.phrase: "There is no such page.",
    HTTPStatus.METHOD_NOT_ALLOWED.phrase: "This page can't be asked in that way.",
}
"""What is said in the place of words that no page of ours has chosen."""


class _Static(StaticFiles):
    """Files that browsers may keep, and ask about before they use them again."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """The file, or that it has not changed."""
        response = await super().get_response(path, scope)
        response.headers["cache-control"] = "no-cache"
        return response


_BROKEN = "Something broke here, and it is our fault; what was saved before is safe."


def make_app(setup: Setup) -> ASGIApp:
    """The studio as an ASGI app."""

    async def broken(request: Request, error: Exception) -> Response:
        """The last resort: the error is in the server's own log, the visitor gets a sentence."""
        _LOG.error("%s %s", request.method, request.url.path, exc_info=error)
        return PlainTextResponse(_BROKEN, status_code=500)

    async def refused(request: Request, error: Exception) -> Response:
        """A page with the one sentence that says what was wrong."""
        if not isinstance(error, HTTPException):
            raise error
        asks = await run_in_threadpool(visitor, request, setup)
        response = page(
            Ask(request=request, setup=setup, visitor=asks),
            "refused.html",
            status=error.status_code,
            sentence=_SENTENCES.get(error.detail, error.detail),
        )
        response.headers.update(error.headers or {})
        return response

    routes = [
        Route(
            one.path,
            endpoint(one.work, one.who, setup, largest=one.largest),
            methods=[one.method],
        )
        for one in PAGES
    ]
    static = Mount("/static", _Static(directory=str(files(__package__) / "static")))
    app = Starlette(routes=[*routes, static], exception_handlers={HTTPException: refused, Exception: broken})
    return Guard(app, setup.hosts)
