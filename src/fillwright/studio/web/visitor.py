"""Visitors: sessions in signed cookies, and the roles that pages are made for."""

from __future__ import annotations

import secrets
from dataclasses import KW_ONLY, dataclass
from enum import Enum

from itsdangerous import BadData, URLSafeTimedSerializer
from starlette.requests import Request
from starlette.responses import Response

from fillwright.store.accounts import Account, find_account
from fillwright.store.sessions import SESSION_DAYS, find_session_use, needs_new_use, write_session_use
from fillwright.store.transaction import ensure_teacher
from fillwright.studio.web.setup import Setup

COOKIE = "fillwright"
SESSION_SECONDS = SESSION_DAYS * 24 * 3600
"""Time until the cookie of a session ends."""

_TOKEN_BYTES = 16
"""Random bytes of a form token: 128 bits (RFC 4086, 8.2, asks for at least 96 for one key). From memory."""


_DEVICE_SIGNS = (("tablet", "tablet"), ("mobi", "phone"))
"""Signs in a browser's name for itself, and the word for its device. Common practice, no source."""


class Role(Enum):
    """Roles of visitors."""

    ANONYMOUS = "anonymous"
    STUDENT = "student"
    TEACHER = "teacher"


@dataclass(frozen=True, slots=True)
class Visitor:
    """A person asking for a page.

    Attributes:
        role: decides which pages they can open.
        teacher: number of the teacher whose data they use; 0 without a role.
        student: a student's own number; None for others.
        account: number of their account; None without accounts.
        name: their login, for display.
        token: of their session. Forms carry it, so that no other website can send one.
        is_new: True if they have no session yet.
    """

    role: Role
    teacher: int
    _: KW_ONLY
    token: str
    student: int | None = None
    account: int | None = None
    name: str = ""
    is_new: bool = False

    @property
    def audit_name(self) -> str:
        """Name in the audit; a student's number instead of their name."""
        return f"student {self.student}" if self.student is not None else self.name or "the teacher"


def _make_signer(setup: Setup) -> URLSafeTimedSerializer:
    return URLSafeTimedSerializer(setup.secret, salt="session")


def identify_visitor(request: Request, setup: Setup) -> Visitor:
    """Identify a visitor by their cookie. A forged, expired or signed-out cookie gives Role.ANONYMOUS."""
    session = _read_session(request, setup)
    is_new = not isinstance(session.get("token"), str)
    token = make_token() if is_new else str(session["token"])
    if not setup.school:
        teacher = ensure_teacher(setup.store, setup.clock)
        return Visitor(Role.TEACHER, teacher, token=token, is_new=is_new)
    account = _find_account(session, setup)
    if account is None:
        return Visitor(Role.ANONYMOUS, 0, token=token, is_new=is_new)
    return Visitor(
        Role(account.role),
        account.teacher,
        student=account.student,
        account=account.id,
        name=account.login,
        token=token,
    )


def _read_session(request: Request, setup: Setup) -> dict[str, object]:
    try:
        session = _make_signer(setup).loads(request.cookies.get(COOKIE, ""), max_age=SESSION_SECONDS)
    except BadData:
        return {}
    return session if isinstance(session, dict) else {}


def _find_account(session: dict[str, object], setup: Setup) -> Account | None:
    number, token, now = session.get("account"), session.get("token"), setup.clock()
    if not isinstance(number, int) or not isinstance(token, str):
        return None
    with setup.store.begin_reading() as connection:
        account = find_account(connection, number)
        seen = find_session_use(connection, number, token, now)
    if account is None or seen is None or account.epoch != session.get("epoch"):
        return None
    if needs_new_use(seen, now):
        with setup.store.begin_writing() as connection:
            write_session_use(connection, token, now)
    return account


def make_token() -> str:
    """Make an unguessable token for the forms of a session."""
    return secrets.token_urlsafe(_TOKEN_BYTES)


def describe_device(request: Request) -> str:
    """Return words for the device of a visitor, from what its browser says about itself."""
    agent = request.headers.get("user-agent", "").casefold()
    if not agent:
        return "unknown device"
    return next((word for sign, word in _DEVICE_SIGNS if sign in agent), "computer")


def set_session(response: Response, setup: Setup, token: str, account: Account | None) -> None:
    """Set the session cookie. Every sign-in and sign-out begins a session with a new token."""
    session: dict[str, object] = {"token": token}
    if account:
        session |= {"account": account.id, "epoch": account.epoch}
    response.set_cookie(
        COOKIE,
        _make_signer(setup).dumps(session),
        max_age=SESSION_SECONDS,
        httponly=True,
        samesite="lax",
        secure=setup.secure,
        path="/",
    )
