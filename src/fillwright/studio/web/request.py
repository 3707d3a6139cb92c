"""One request as a page sees it: the visitor, the fields of the form, and the teacher's transactions."""

from __future__ import annotations

import hmac
import re
from collections.abc import Awaitable, Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response

from fillwright.errors import FillwrightError, NotThereError
from fillwright.store.transaction import Transaction, begin_reading, begin_writing
from fillwright.studio.web.guard import LARGEST_FORM_BYTES, limit_body
from fillwright.studio.web.setup import Setup
from fillwright.studio.web.visitor import Role, Visitor, identify_visitor, set_session
from fillwright.studio.work.full_disk import FULL_DISK, FULL_DISK_STATUS, is_full_disk

_MOST_FIELDS = 400
"""Fields of one form; the lesson form with 60 figures has 260. Ours."""

_LARGEST_FIELD_BYTES = 400_000
"""Bytes of one field; a long lesson text has about 20,000. Ours."""

_LARGEST_NUMBER = 2**31 - 1
"""Largest row number that PostgreSQL's `integer` holds (PostgreSQL manual, "Numeric Types")."""

_CONTROL_CHARACTERS = re.compile("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")
"""Characters that can't be typed and that PostgreSQL does not store."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UploadedFile:
    """A file that came with a form."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class PageRequest:
    """One request, its visitor identified and its form read.

    Attributes:
        http: the request as Starlette has it.
        setup: of the studio.
        visitor: the person asking, with their role.
        fields: of the form, the last value of each name.
        lists: every value of each name.
        files: uploaded, by field.
    """

    http: Request
    setup: Setup
    visitor: Visitor
    fields: Mapping[str, str] = field(default_factory=dict)
    lists: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    files: Mapping[str, UploadedFile] = field(default_factory=dict)

    def number(self, name: str) -> int:
        """Return a number from the path.

        Raises:
            NotThereError: for a number that no row can have.
        """
        value = int(self.http.path_params[name])
        if not 0 < value <= _LARGEST_NUMBER:
            raise NotThereError("There is no such page.")
        return value

    def segment(self, name: str) -> str:
        """Return a text from the path."""
        return str(self.http.path_params[name])

    def query(self, name: str, default: str = "") -> str:
        """Return a parameter from the address."""
        return self.http.query_params.get(name, default)

    def text(self, name: str) -> str:
        """Return a field of the form, "" if it was not sent."""
        return self.fields.get(name, "")

    def link(self, path: str) -> str:
        """Return the full address of a page of the studio, to pass on to somebody."""
        base = self.http.base_url
        return str(base.replace(scheme="https") if self.setup.secure else base) + path

    @contextmanager
    def begin_reading(self) -> Iterator[Transaction]:
        """Begin a transaction that reads what belongs to the visitor's teacher."""
        with begin_reading(self.setup.store, self.visitor.teacher, self.setup.clock) as transaction:
            yield transaction

    @contextmanager
    def begin_writing(self) -> Iterator[Transaction]:
        """Begin a transaction that changes what belongs to the visitor's teacher: everything or nothing."""
        with begin_writing(self.setup.store, self.visitor.teacher, self.setup.clock) as transaction:
            yield transaction

    def student_number(self, name: str = "student") -> int:
        """Return the student's number from the path: any for a teacher, only their own for a student.

        Raises:
            NotThereError: if a student asks for another student.
        """
        number = self.number(name)
        if self.visitor.student not in (None, number):
            raise NotThereError("There is no such student.")
        return number


Handler = Callable[[PageRequest], Response]
"""Function that answers a request. It may wait for the store, because it runs in a thread of its own."""


def make_endpoint(
    handler: Handler, roles: frozenset[Role], setup: Setup, *, largest: int = LARGEST_FORM_BYTES
) -> Callable[[Request], Awaitable[Response]]:
    """Make the function that Starlette calls: it identifies the visitor, reads the form and checks its token.

    Args:
        handler: answers the request.
        roles: allowed to ask. A visitor without a role is sent to the sign-in; others get "no such page".
        setup: of the studio.
        largest: most bytes of a body that are read.
    """

    async def answer(http: Request) -> Response:
        visitor = await run_in_threadpool(identify_visitor, http, setup)
        if visitor.role not in roles:
            if visitor.role is Role.ANONYMOUS:
                return _redirect_to_sign_in(http)
            raise HTTPException(404)
        limited = Request(http.scope, limit_body(http.receive, largest))
        request = PageRequest(http=limited, setup=setup, visitor=visitor)
        if http.method == "POST":
            request = await _read_form(request)
        response = await run_in_threadpool(_call_handler, handler, request)
        if visitor.is_new and not {"set-cookie", "cache-control"} & set(response.headers):
            # a response that browsers keep must not pass one visitor's session to the next
            set_session(response, setup, visitor.token, None)
        return response

    return answer


def _redirect_to_sign_in(http: Request) -> Response:
    """Return the way to the sign-in, which leads back to the page. A form that was sent is not kept."""
    if http.method not in ("GET", "HEAD"):
        raise HTTPException(403, "Sign in first. Your form was not saved.")
    return RedirectResponse(f"/sign-in?to={quote(http.url.path)}", status_code=303)


def _call_handler(handler: Handler, request: PageRequest) -> Response:
    """Return the handler's answer, or turn an error that no page has shown next to its form into a status."""
    try:
        return handler(request)
    except NotThereError as error:
        raise HTTPException(404, str(error)) from error
    except FillwrightError as error:
        if is_full_disk(error):
            raise HTTPException(FULL_DISK_STATUS, FULL_DISK) from error
        raise HTTPException(422, str(error)) from error
    except OSError as error:
        if is_full_disk(error):
            raise HTTPException(FULL_DISK_STATUS, FULL_DISK) from error
        raise


async def _read_form(request: PageRequest) -> PageRequest:
    """Return the request with its form read.

    Raises:
        HTTPException: for a form with another session's token, or one that can't be read.
    """
    fields: dict[str, str] = {}
    lists: dict[str, tuple[str, ...]] = {}
    files: dict[str, UploadedFile] = {}
    try:
        async with request.http.form(
            max_fields=_MOST_FIELDS, max_files=1, max_part_size=_LARGEST_FIELD_BYTES
        ) as form:
            for name, value in form.multi_items():
                if isinstance(value, UploadFile):
                    files[name] = UploadedFile(name=value.filename or "", content=await value.read())
                else:
                    fields[name] = text = _clean_text(name, value)
                    lists[name] = (*lists.get(name, ()), text)
    except (ClientDisconnect, UnicodeError) as error:  # the browser left, or the text has no valid encoding
        raise HTTPException(400, "The form could not be read. Send it again.") from error
    except OSError as error:  # a large file waits on the disk while it is read
        if is_full_disk(error):
            raise HTTPException(FULL_DISK_STATUS, FULL_DISK) from error
        raise
    token = fields.get("token") or request.http.headers.get("x-token", "")
    if not hmac.compare_digest(token.encode("utf-8"), request.visitor.token.encode("utf-8")):
        raise HTTPException(403, "This form was open too long. Go back, load the page again and send it again.")
    return replace(request, fields=fields, lists=lists, files=files)


def _clean_text(name: str, value: str) -> str:
    """Return a field's text with line feeds as line ends; browsers send others.

    Raises:
        HTTPException: for control characters.
    """
    text = value.replace("\r\n", "\n").replace("\r", "\n")
    if _CONTROL_CHARACTERS.search(name) or _CONTROL_CHARACTERS.search(text):
        raise HTTPException(
            422, "The form contains invisible control characters. Remove them and send it again."
        )
    return text
