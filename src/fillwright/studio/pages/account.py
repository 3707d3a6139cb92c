"""Signing in and out, and accepting an invitation."""

from __future__ import annotations

import secrets

from starlette.responses import Response

from fillwright.errors import StoreError
from fillwright.store.accounts import Account, accept, by_number, end_sessions, note
from fillwright.store.accounts import sign_in as checked
from fillwright.studio.ask import Ask
from fillwright.studio.limits import Failures
from fillwright.studio.render import back_to, page
from fillwright.studio.visitor import remember

_FAILURES = Failures()
_WAIT = "Too many tries; wait a quarter of an hour and try again."
_WRONG = "Login and password don't belong together."


def sign_in_page(ask: Ask) -> Response:
    """The form."""
    return page(ask, "sign-in.html", to=ask.request.query_params.get("to", "/"), login="", wrong="")


def sign_in(ask: Ask) -> Response:
    """Sign in, unless there were too many tries."""
    login, now = ask.text("login").strip().casefold()[:80], ask.setup.clock()
    address = ask.request.client.host if ask.request.client else ""
    keys = (f"login {login}", f"address {address}")
    if any(_FAILURES.must_wait(key, now) for key in keys):
        return _again(ask, login, _WAIT, 429)
    with ask.setup.store.writing() as connection:
        account = checked(connection, login, ask.text("password"))
        note(connection, who=login, what="signed in" if account else "sign-in failed", now=now, detail=address)
    if account is None:
        for key in keys:
            _FAILURES.failed(key, now)
        return _again(ask, login, _WRONG, 403)
    for key in keys:
        _FAILURES.succeeded(key)
    return _signed_in(ask, account, ask.text("to"))


def sign_out(ask: Ask) -> Response:
    """End every session of the account."""
    with ask.setup.store.writing() as connection:
        if ask.visitor.account is not None:
            end_sessions(connection, ask.visitor.account)
            note(connection, who=ask.visitor.name, what="signed out", now=ask.setup.clock())
    response = back_to("/sign-in", "signed-out")
    remember(response, ask.setup, secrets.token_urlsafe(16), None)
    return response


def invitation_page(ask: Ask) -> Response:
    """The form behind a one-time link."""
    return page(ask, "invitation.html", login="", wrong="")


def accept_invitation(ask: Ask) -> Response:
    """Make the account and sign in."""
    try:
        with ask.setup.store.writing() as connection:
            account = accept(
                connection,
                str(ask.request.path_params["secret"]),
                login=ask.text("login"),
                password=ask.text("password"),
                now=ask.setup.clock(),
            )
    except StoreError as error:
        return page(ask, "invitation.html", status=422, login=ask.text("login"), wrong=str(error))
    return _signed_in(ask, account, "/")


def _signed_in(ask: Ask, account: Account, to: str) -> Response:
    response = back_to(to)
    with ask.setup.store.reading() as connection:
        remember(response, ask.setup, secrets.token_urlsafe(16), by_number(connection, account.id))
    return response


def _again(ask: Ask, login: str, wrong: str, status: int) -> Response:
    return page(ask, "sign-in.html", status=status, to=ask.text("to"), login=login, wrong=wrong)
