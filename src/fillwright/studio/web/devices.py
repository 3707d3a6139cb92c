"""Remembered devices: a signed cookie after a good sign-in, which opens nothing and only has its own tries."""

from __future__ import annotations

import hashlib
import hmac
import secrets

import msgspec
from itsdangerous import BadData, URLSafeTimedSerializer
from starlette.requests import Request
from starlette.responses import Response

from fillwright.studio.web.setup import Setup

DEVICE_COOKIE = "fillwright-device"

DEVICE_SECONDS = 180 * 24 * 3600
"""Time until a device is forgotten: half a year, so that it outlasts summer holidays. Ours."""

_MOST_LOGINS = 10
"""Logins for which one device is remembered: brothers and sisters, or a class at one computer. Ours."""

_NUMBER_BYTES = 12
"""Random bytes of a device's number. Ours."""

_DIGEST_DIGITS = 16
"""Hexadecimal digits of a login's digest; they are compared among ten. Ours."""


class _Device(msgspec.Struct):
    """The content of the cookie: a device's number and digests of the logins, never the logins themselves."""

    number: str = ""
    logins: tuple[str, ...] = ()


def _make_signer(setup: Setup) -> URLSafeTimedSerializer:
    return URLSafeTimedSerializer(setup.secret, salt="device")


def _make_digest(setup: Setup, login: str) -> str:
    digest = hmac.new(setup.secret.encode("utf-8"), f"device {login}".encode(), hashlib.sha256)
    return digest.hexdigest()[:_DIGEST_DIGITS]


def _read_device(request: Request, setup: Setup) -> _Device:
    try:
        content = _make_signer(setup).loads(request.cookies.get(DEVICE_COOKIE, ""), max_age=DEVICE_SECONDS)
        return msgspec.convert(content, _Device)
    except (BadData, msgspec.ValidationError):
        return _Device()


def find_device(request: Request, setup: Setup, login: str) -> str:
    """Return the number of the visitor's device if it signed in to this login before, otherwise ""."""
    device = _read_device(request, setup)
    return device.number if _make_digest(setup, login) in device.logins else ""


def remember_device(request: Request, response: Response, setup: Setup, login: str) -> None:
    """Remember the visitor's device for a login, after a good sign-in."""
    device, digest = _read_device(request, setup), _make_digest(setup, login)
    older = tuple(login for login in device.logins if login != digest)
    logins = (digest, *older)[:_MOST_LOGINS]
    number = device.number or secrets.token_urlsafe(_NUMBER_BYTES)
    response.set_cookie(
        DEVICE_COOKIE,
        _make_signer(setup).dumps({"number": number, "logins": logins}),
        max_age=DEVICE_SECONDS,
        httponly=True,
        samesite="lax",
        secure=setup.secure,
        path="/",
    )
