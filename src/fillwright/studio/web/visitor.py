"""Who is asking: sessions in signed cookies, and the roles that pages are made for."""

from __future__ import annotations

import secrets
from dataclasses import KW_ONLY, dataclass
from enum import Enum

from itsdangerous import BadData, URLSafeTimedSerializer
from starlette.requests import Request
from starlette.responses import Response

from fillwright.store.accounts import Account, by_number
from fillwright.store.desk import only_teacher
from fillwright.studio.web.setup import Setup

COOKIE = "fillwright"
SESSION_SECONDS = 14 * 24 * 3600


class Role(Enum):
    """What a visitor is."""

    NOBODY = "nobody"
    STUDENT = "student"
    TEACHER = "teacher"


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who is asking.

    Attributes:
        role: what pages there are for them.
        teacher: whose desk they work at; 0 for nobody.
        student: a student's own number; None for others.
        account: number of their account; None without accounts.
        name: to greet them by, the login.
        token: of their session; forms carry it, so that no other page can send one.
        fresh: whether they have no session yet.
    """

    role: Role
    teacher: int
    _: KW_ONLY
    token: str
    student: int | None = None
    account: int | None = None
    name: str = ""
    fresh: bool = False

    @property
    def named(self) -> str:
        """As the audit names them; of a student it keeps a number only."""
        return f"student {self.student}" if self.student is not None else self.name or "the teacher"


def _signer(setup: Setup) -> URLSafeTimedSerializer:
    return URLSafeTimedSerializer(setup.secret, salt="session")


def visitor(request: Request, setup: Setup) -> Visitor:
    """Who is asking, as their cookie says; one that is forged, too old or signed out is nobody's."""
    session = _session(request, setup)
    fresh = not isinstance(session.get("token"), str)
    token = secrets.token_urlsafe(16) if fresh else str(session["token"])
    if not setup.school:
        teacher = only_teacher(setup.store, setup.clock)
        return Visitor(Role.TEACHER, teacher, token=token, fresh=fresh)
    account = _account(session, setup)
    if account is None:
        return Visitor(Role.NOBODY, 0, token=token, fresh=fresh)
    return Visitor(
        Role(account.role),
        account.teacher,
        student=account.student,
        account=account.id,
        name=account.login,
        token=token,
    )


def _session(request: Request, setup: Setup) -> dict[str, object]:
    try:
        found = _signer(setup).loads(request.cookies.get(COOKIE, ""), max_age=SESSION_SECONDS)
    except BadData:
        return {}
    return found if isinstance(found, dict) else {}


def _account(session: dict[str, object], setup: Setup) -> Account | None:
    number = session.get("account")
    if not isinstance(number, int):
        return None
    with setup.store.reading() as connection:
        account = by_number(connection, number)
    return account if account and account.epoch == session.get("epoch") else None


def remember(response: Response, setup: Setup, token: str, account: Account | None) -> None:
    """Set the session's cookie; signing in or out begins a session with a token of its own."""
    session: dict[str, object] = {"token": token}
    if account:
        session |= {"account": account.id, "epoch": account.epoch}
    response.set_cookie(
        COOKIE,
        _signer(setup).dumps(session),
        max_age=SESSION_SECONDS,
        httponly=True,
        samesite="lax",
        secure=setup.secure,
        path="/",
    )
