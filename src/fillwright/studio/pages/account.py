"""Signing in and out, accepting an invitation, and an account of one's own."""

from __future__ import annotations

import secrets
from collections.abc import Mapping

from starlette.responses import Response

from fillwright.errors import NotThereError, StoreError
from fillwright.store.accounts import INVITATION_DAYS, Account, accept, by_login, by_number, end_sessions, note
from fillwright.store.accounts import change_password as set_password
from fillwright.store.accounts import invite as make_invitation
from fillwright.store.accounts import sign_in as checked
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.web.sign_in_limits import MOST_FOR_LOGIN, MOST_FROM_ADDRESS
from fillwright.studio.web.visitor import Role, remember

_WAIT = "Too many tries; wait a quarter of an hour and try again."
_WRONG = "Login and password don't belong together."


def sign_in_page(ask: Ask) -> Response:
    """The form."""
    return page(ask, "sign-in.html", to=ask.request.query_params.get("to", "/"), login="", wrong="")


def sign_in(ask: Ask) -> Response:
    """Sign in, unless there were too many tries."""
    _with_accounts(ask)
    login, now = ask.text("login").strip().casefold()[:80], ask.setup.clock()
    most = _most(ask, login)
    if not ask.setup.tries.begin(most, now):
        return _again(ask, login, _WAIT, 429)
    # the password is checked while nothing is locked: that takes long on purpose
    with ask.setup.store.reading() as connection:
        account = checked(connection, login, ask.text("password"))
        known = account or by_login(connection, login)
    with ask.setup.store.writing() as connection:
        # what was typed for a login that does not exist may be a password in the wrong place
        who = known.named if known else "nobody"
        note(
            connection,
            who=who,
            what="signed in" if account else "sign-in failed",
            now=now,
            detail=_address(ask),
        )
    if account is None:
        return _again(ask, login, _WRONG, 403)
    ask.setup.tries.succeeded(most, now)
    ask.setup.tries.forget(_login_key(login))
    return _signed_in(ask, account, ask.text("to"))


def sign_out(ask: Ask) -> Response:
    """End every session of the account."""
    account = _account(ask)
    with ask.setup.store.writing() as connection:
        end_sessions(connection, account.id)
        note(connection, who=account.named, what="signed out", now=ask.setup.clock())
    response = back_to("/sign-in", "signed-out")
    remember(response, ask.setup, secrets.token_urlsafe(16), None)
    return response


def invitation_page(ask: Ask) -> Response:
    """The form behind a one-time link."""
    _with_accounts(ask)
    return page(ask, "invitation.html", login="", wrong="")


def accept_invitation(ask: Ask) -> Response:
    """Make the account and sign in."""
    _with_accounts(ask)
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


def show(ask: Ask) -> Response:
    """One's own account."""
    _account(ask)
    return _show(ask)


def change_password(ask: Ask) -> Response:
    """Set another password; every other session of the account ends."""
    account, now = _account(ask), ask.setup.clock()
    most = _most(ask, account.login)
    if not ask.setup.tries.begin(most, now):
        return _show(ask, wrong=_WAIT, status=429)
    with ask.setup.store.reading() as connection:
        right = checked(connection, account.login, ask.text("password")) is not None
    if not right:
        return _show(ask, wrong="That is not your password as it was until now.", status=403)
    ask.setup.tries.succeeded(most, now)
    try:
        with ask.setup.store.writing() as connection:
            set_password(connection, account.id, ask.text("new"))
            note(connection, who=account.named, what="password changed", now=now, detail=_address(ask))
    except StoreError as error:
        return _show(ask, wrong=str(error), status=422)
    return _signed_in(ask, account, "/account", "saved")


def invite_teacher(ask: Ask) -> Response:
    """A one-time link for another teacher, who gets a desk of their own."""
    account, now = _account(ask), ask.setup.clock()
    with ask.setup.store.writing() as connection:
        secret = make_invitation(connection, now=now)
        note(connection, who=account.named, what="teacher invited", now=now)
    return _show(ask, link=ask.link(f"invitation/{secret}"))


def _with_accounts(ask: Ask) -> None:
    """Raises NotThereError in a studio without accounts."""
    if not ask.setup.school:
        raise NotThereError("There are no accounts here; who sits at this machine is the teacher.")


def _account(ask: Ask) -> Account:
    """The visitor's own.

    Raises:
        NotThereError: in a studio without accounts.
    """
    _with_accounts(ask)
    with ask.setup.store.reading() as connection:
        found = by_number(connection, ask.visitor.account or 0)
    if found is None:
        raise NotThereError("There is no such account.")
    return found


def _login_key(login: str) -> str:
    return f"login {login}"


def _most(ask: Ask, login: str) -> Mapping[str, int]:
    """How many tries there are, by key."""
    return {_login_key(login): MOST_FOR_LOGIN, f"address {_address(ask)}": MOST_FROM_ADDRESS}


def _address(ask: Ask) -> str:
    return ask.request.client.host if ask.request.client else ""


def _signed_in(ask: Ask, account: Account, to: str, said: str = "") -> Response:
    response = back_to(to, said)
    with ask.setup.store.reading() as connection:
        remember(response, ask.setup, secrets.token_urlsafe(16), by_number(connection, account.id))
    return response


def _again(ask: Ask, login: str, wrong: str, status: int) -> Response:
    return page(ask, "sign-in.html", status=status, to=ask.text("to"), login=login, wrong=wrong)


def _show(ask: Ask, *, wrong: str = "", link: str = "", status: int = 200) -> Response:
    teacher = ask.visitor.role is Role.TEACHER
    return page(
        ask, "account.html", status=status, wrong=wrong, link=link, link_days=INVITATION_DAYS, teacher=teacher
    )
