"""The app: every page of the table, behind its guard."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
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

from fillwright.isolation.run import prepare_isolation
from fillwright.studio.routes import PAGES
from fillwright.studio.web.guard import Guard
from fillwright.studio.web.render import render_page
from fillwright.studio.web.request import PageRequest, make_endpoint
from fillwright.studio.web.setup import Setup
from fillwright.studio.web.visitor import identify_visitor
from fillwright.studio.work import isolated
from fillwright.studio.work.scratch import sweep_scratch

_LOG = logging.getLogger("fillwright.studio")


_SENTENCES = {
    HTTPStatus.NOT_FOUND.phrase: "There is no such page.",
    HTTPStatus.UNAUTHORIZED.phrase: "There is no such page.",
    HTTPStatus.METHOD_NOT_ALLOWED.phrase: "This page does not accept that kind of request.",
}
"""Our sentences in place of Starlette's own."""


class _Static(StaticFiles):
    """Static files, which browsers check for changes each time before they use them."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Send a file, or only that it has not changed."""
        response = await super().get_response(path, scope)
        response.headers["cache-control"] = "no-cache"
        return response


_BROKEN_SENTENCE = "An error in Fillwright stopped this page. Everything you saved before is safe."


def make_app(setup: Setup) -> ASGIApp:
    """Make the studio as an ASGI app."""

    async def handle_crash(http: Request, error: Exception) -> Response:
        """Log an unexpected error and answer with a sentence."""
        _LOG.error("%s %s", http.method, http.url.path, exc_info=error)
        return PlainTextResponse(_BROKEN_SENTENCE, status_code=500)

    async def handle_refusal(http: Request, error: Exception) -> Response:
        """Render a page with the sentence of a refusal."""
        if not isinstance(error, HTTPException):
            raise error
        visitor = await run_in_threadpool(identify_visitor, http, setup)
        response = render_page(
            PageRequest(http=http, setup=setup, visitor=visitor),
            "refused.html",
            status=error.status_code,
            sentence=_SENTENCES.get(error.detail, error.detail),
        )
        response.headers.update(error.headers or {})
        return response

    @asynccontextmanager
    async def live(_app: Starlette) -> AsyncIterator[None]:
        """Delete what a killed studio left, and make work start quickly; at the end, cancel what still runs."""
        await run_in_threadpool(sweep_scratch)
        await run_in_threadpool(prepare_isolation, [isolated.__name__])
        yield
        await run_in_threadpool(setup.queue.close)

    routes = [
        Route(
            page.path,
            make_endpoint(page.handler, page.roles, setup, largest=page.largest),
            methods=[page.method],
        )
        for page in PAGES
    ]
    static = Mount("/static", _Static(directory=str(files(__package__) / "static")))
    handlers = {HTTPException: handle_refusal, Exception: handle_crash}
    app = Starlette(routes=[*routes, static], exception_handlers=handlers, lifespan=live)
    return Guard(app, setup.hosts)
