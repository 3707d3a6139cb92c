"""Signing in and out, accepting an invitation, and a visitor's own account."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import Annotated

from msgspec import Meta, Struct
from starlette.responses import Response

from fillwright.errors import FillwrightError, NotThereError, StoreError
from fillwright.store.accounts import (
    INVITATION_DAYS,
    Account,
    accept_invitation,
    change_password,
    find_account,
    find_account_by_login,
    invite,
    sign_in,
    write_audit,
)
from fillwright.store.sessions import (
    add_session,
    end_other_sessions,
    end_session,
    end_session_of_token,
    list_sessions,
)
from fillwright.studio.web.addresses import find_address, find_network
from fillwright.studio.web.devices import find_device, remember_device
from fillwright.studio.web.forms import KEEP_SPACES, FormError, convert_form
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.web.sign_in_limits import Try, describe_wait
from fillwright.studio.web.visitor import Role, describe_device, make_token, set_session

_TOO_MANY, _FORBIDDEN = 429, 403
"""HTTP status of too many tries (RFC 6585, 4), and of a wrong password (RFC 9110, 15.5.4)."""

_LONGEST_LOGIN = 80
"""Characters of a login that are looked at."""

_MISMATCH = StoreError("Login and password don't match.")

_UNSAFE = StoreError("This studio refuses passwords, because its connection is not encrypted (no HTTPS).")

Password = Annotated[str, Meta(title="Password", extra=KEEP_SPACES)]


class SignInForm(Struct, kw_only=True):
    """The form of the sign-in; `to` is the page to go to."""

    login: str = ""
    password: Password = ""
    to: str = ""


class InvitationForm(Struct, kw_only=True):
    """The form of a new account."""

    login: Annotated[str, Meta(title="Login", min_length=1, max_length=_LONGEST_LOGIN)]
    password: Password = ""


class PasswordForm(Struct, kw_only=True):
    """The form that changes a password."""

    password: Password = ""
    new: Annotated[str, Meta(title="New password", extra=KEEP_SPACES)] = ""


def show_sign_in(request: PageRequest) -> Response:
    """Show the sign-in."""
    form = SignInForm(to=request.query("to", "/"))
    return _render_sign_in(request, form, None if request.setup.accepts_passwords else _UNSAFE, 200)


def handle_sign_in(request: PageRequest) -> Response:
    """Sign in, unless there were too many tries."""
    _require_accounts(request)
    form = convert_form(SignInForm, request)
    if not request.setup.accepts_passwords:
        return _render_sign_in(request, form, _UNSAFE, _FORBIDDEN)
    login, now = form.login.strip().casefold()[:_LONGEST_LOGIN], request.setup.clock()
    attempt = _make_try(request, login)
    if wait := request.setup.tries.begin(attempt, now):
        return _add_wait(_render_sign_in(request, form, _make_wait(wait), _TOO_MANY), wait)
    # outside the writing transaction, because checking a password takes long on purpose
    with request.setup.store.begin_reading() as connection:
        account = sign_in(connection, login, form.password)
        known = account or find_account_by_login(connection, login)
    with request.setup.store.begin_writing() as connection:
        # an unknown login is not written down: it may be a password in the wrong field
        write_audit(
            connection,
            who=known.audit_name if known else "unknown",
            action="signed in" if account else "sign-in failed",
            now=now,
            detail=_get_address(request),
        )
    if account is None:
        return _render_sign_in(request, form, _MISMATCH, _FORBIDDEN)
    request.setup.tries.succeed(attempt, now)
    response = _redirect_with_session(request, account, form.to)
    remember_device(request.http, response, request.setup, account.login)
    return response


def handle_sign_out(request: PageRequest) -> Response:
    """End the visitor's session."""
    account = _get_account(request)
    with request.setup.store.begin_writing() as connection:
        end_session_of_token(connection, request.visitor.token)
        write_audit(connection, who=account.audit_name, action="signed out", now=request.setup.clock())
    response = redirect("/sign-in", "signed-out")
    set_session(response, request.setup, make_token(), None)
    return response


def show_invitation(request: PageRequest) -> Response:
    """Show the form behind a one-time link."""
    _require_accounts(request)
    error = None if request.setup.accepts_passwords else _UNSAFE
    return render_page(request, "invitation.html", status=200, error=error, login="")


def handle_invitation(request: PageRequest) -> Response:
    """Make the account of an invitation and sign in."""
    _require_accounts(request)
    if not request.setup.accepts_passwords:
        return render_page(request, "invitation.html", status=_FORBIDDEN, error=_UNSAFE, login="")
    try:
        form = convert_form(InvitationForm, request)
        with request.setup.store.begin_writing() as connection:
            account = accept_invitation(
                connection,
                request.segment("secret"),
                login=form.login,
                password=form.password,
                now=request.setup.clock(),
            )
    except FillwrightError as error:
        return render_page(request, "invitation.html", error=error, login=request.text("login"))
    return _redirect_with_session(request, account, "/")


def show(request: PageRequest) -> Response:
    """Show the visitor's own account."""
    _get_account(request)
    return _render_account(request)


def handle_password(request: PageRequest) -> Response:
    """Change the password and end every other session of the account."""
    account, now = _get_account(request), request.setup.clock()
    if not request.setup.accepts_passwords:
        return _render_account(request, _UNSAFE, status=_FORBIDDEN)
    form = convert_form(PasswordForm, request)
    attempt = _make_try(request, account.login)
    if wait := request.setup.tries.begin(attempt, now):
        return _add_wait(_render_account(request, _make_wait(wait), status=_TOO_MANY), wait)
    with request.setup.store.begin_reading() as connection:
        is_right = sign_in(connection, account.login, form.password) is not None
    if not is_right:
        error = FormError.of_field("password", "Current password", "This is not your current password.")
        return _render_account(request, error, status=_FORBIDDEN)
    request.setup.tries.succeed(attempt, now)
    try:
        with request.setup.store.begin_writing() as connection:
            change_password(connection, account.id, form.new)
            write_audit(
                connection,
                who=account.audit_name,
                action="password changed",
                now=now,
                detail=_get_address(request),
            )
    except StoreError as error:
        return _render_account(request, error)
    return _redirect_with_session(request, account, "/account", "saved")


def handle_end_session(request: PageRequest) -> Response:
    """End one session of the account; that device is signed out."""
    account = _get_account(request)
    with request.setup.store.begin_writing() as connection:
        end_session(connection, account.id, request.number("session"))
        write_audit(connection, who=account.audit_name, action="session ended", now=request.setup.clock())
    return redirect("/account", "session-ended")


def handle_end_others(request: PageRequest) -> Response:
    """End every other session of the account."""
    account = _get_account(request)
    with request.setup.store.begin_writing() as connection:
        end_other_sessions(connection, account.id, request.visitor.token)
        write_audit(connection, who=account.audit_name, action="sessions ended", now=request.setup.clock())
    return redirect("/account", "session-ended")


def invite_teacher(request: PageRequest) -> Response:
    """Make a one-time link for another teacher, who gets students and lessons of their own."""
    account, now = _get_account(request), request.setup.clock()
    with request.setup.store.begin_writing() as connection:
        secret = invite(connection, now=now)
        write_audit(connection, who=account.audit_name, action="teacher invited", now=now)
    return _render_account(request, link=request.link(f"invitation/{secret}"))


def _require_accounts(request: PageRequest) -> None:
    """Raise NotThereError in a studio without accounts."""
    if not request.setup.school:
        raise NotThereError("This studio has no accounts. Start it with --school to add them.")


def _get_account(request: PageRequest) -> Account:
    """Return the visitor's own account.

    Raises:
        NotThereError: in a studio without accounts.
    """
    _require_accounts(request)
    with request.setup.store.begin_reading() as connection:
        account = find_account(connection, request.visitor.account or 0)
    if account is None:
        raise NotThereError("There is no such account.")
    return account


def _make_try(request: PageRequest, login: str) -> Try:
    device = find_device(request.http, request.setup, login)
    return Try(login=login, address=find_network(_get_address(request)), device=device)


def _make_wait(wait: timedelta) -> StoreError:
    return StoreError(f"Too many wrong passwords. Try again in {describe_wait(wait)}.")


def _add_wait(response: Response, wait: timedelta) -> Response:
    """Add the header that says in seconds when to try again (RFC 9110, 10.2.3)."""
    response.headers["retry-after"] = str(math.ceil(wait.total_seconds()))
    return response


def _get_address(request: PageRequest) -> str:
    return find_address(request.http, request.setup.proxies)


def _redirect_with_session(request: PageRequest, account: Account, to: str, done: str = "") -> Response:
    """Begin a session, in place of the one that this browser had."""
    response, token = redirect(to, done), make_token()
    with request.setup.store.begin_writing() as connection:
        end_session_of_token(connection, request.visitor.token)
        device = describe_device(request.http)
        add_session(connection, account.id, token, device=device, now=request.setup.clock())
        set_session(response, request.setup, token, find_account(connection, account.id))
    return response


def _render_sign_in(
    request: PageRequest, form: SignInForm, error: FillwrightError | None, status: int
) -> Response:
    return render_page(request, "sign-in.html", status=status, error=error, to=form.to, login=form.login)


def _render_account(
    request: PageRequest, error: FillwrightError | None = None, *, link: str = "", status: int | None = None
) -> Response:
    with request.setup.store.begin_reading() as connection:
        number, token = request.visitor.account or 0, request.visitor.token
        sessions = list_sessions(connection, number, token, request.setup.clock())
    return render_page(
        request,
        "account.html",
        sessions=sessions,
        status=status,
        error=error,
        link=link,
        link_days=INVITATION_DAYS,
        is_teacher=request.visitor.role is Role.TEACHER,
    )
