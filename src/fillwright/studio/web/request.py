"""One request as a page sees it: who asks for what, the fields of its form, and the desk it may work at."""

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
from fillwright.store.desk import Desk, reading, writing
from fillwright.studio.web.guard import LARGEST_FORM_BYTES, limited
from fillwright.studio.web.setup import Setup
from fillwright.studio.web.visitor import Role, Visitor, remember, visitor

_MOST_FIELDS = 400
_LARGEST_FIELD_BYTES = 400_000
_NOT_TYPED = re.compile("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")
"""Characters that nobody types and that not every store keeps."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """A file that was sent along."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One request.

    Attributes:
        request: as it came.
        setup: of the studio.
        visitor: who asks.
        fields: of the form, the last value of each name.
        lists: every value of each name.
        files: sent along, by field.
    """

    request: Request
    setup: Setup
    visitor: Visitor
    fields: Mapping[str, str] = field(default_factory=dict)
    lists: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    files: Mapping[str, Sent] = field(default_factory=dict)

    def number(self, name: str) -> int:
        """A number in the path.

        Raises:
            NotThereError: where no row could have it.
        """
        value = int(self.request.path_params[name])
        if not 0 < value < 2**31:
            raise NotThereError("There is no such page.")
        return value

    def text(self, name: str) -> str:
        """A field of the form, "" where it was not sent."""
        return self.fields.get(name, "")

    def link(self, path: str) -> str:
        """The whole address of a page of ours, to hand over."""
        base = self.request.base_url
        return str(base.replace(scheme="https") if self.setup.secure else base) + path

    @contextmanager
    def reading(self) -> Iterator[Desk]:
        """The visitor's desk, to look things up."""
        with reading(self.setup.store, self.visitor.teacher, self.setup.clock) as desk:
            yield desk

    @contextmanager
    def writing(self) -> Iterator[Desk]:
        """The visitor's desk, to change things: all of them, or none."""
        with writing(self.setup.store, self.visitor.teacher, self.setup.clock) as desk:
            yield desk

    def own_student(self, name: str = "student") -> int:
        """The student in the path: any of a teacher's, a student's own.

        Raises:
            NotThereError: where a student asks for another.
        """
        number = self.number(name)
        if self.visitor.student not in (None, number):
            raise NotThereError("There is no such student.")
        return number


Work = Callable[[Ask], Response]
"""What answers a request; it may wait for the store, since it runs in a thread of its own."""


def endpoint(
    work: Work, who: frozenset[Role], setup: Setup, *, largest: int = LARGEST_FORM_BYTES
) -> Callable[[Request], Awaitable[Response]]:
    """A page as Starlette wants it: who asks is known, forms are read and their token checked.

    Args:
        work: what answers.
        who: may ask; to others the page is not there, and nobody is led to the sign-in.
        setup: of the studio.
        largest: bytes of a body that are read.
    """

    async def answer(request: Request) -> Response:
        asks = await run_in_threadpool(visitor, request, setup)
        if asks.role not in who:
            if asks.role is Role.NOBODY:
                return _to_sign_in(request)
            raise HTTPException(404)
        ask = Ask(request=Request(request.scope, limited(request.receive, largest)), setup=setup, visitor=asks)
        if request.method == "POST":
            ask = await _with_form(ask)
        response = await run_in_threadpool(_answered, work, ask)
        if asks.fresh and not {"set-cookie", "cache-control"} & set(response.headers):
            # an answer that is kept must not hand one visitor's session to the next
            remember(response, setup, asks.token, None)
        return response

    return answer


def _to_sign_in(request: Request) -> Response:
    """To the sign-in, and from there to where the visitor wanted to go; what was sent is not kept."""
    if request.method not in ("GET", "HEAD"):
        raise HTTPException(403, "Sign in first; what you sent was not kept.")
    return RedirectResponse(f"/sign-in?to={quote(request.url.path)}", status_code=303)


def _answered(work: Work, ask: Ask) -> Response:
    """The answer, or the sentence of an error that nobody on the way has shown beside its form."""
    try:
        return work(ask)
    except NotThereError as error:
        raise HTTPException(404, str(error)) from error
    except FillwrightError as error:
        raise HTTPException(422, str(error)) from error


async def _with_form(ask: Ask) -> Ask:
    """The request with its form read.

    Raises:
        HTTPException: for a form that carries another session's token, or can't be read.
    """
    fields: dict[str, str] = {}
    lists: dict[str, tuple[str, ...]] = {}
    files: dict[str, Sent] = {}
    try:
        async with ask.request.form(
            max_fields=_MOST_FIELDS, max_files=1, max_part_size=_LARGEST_FIELD_BYTES
        ) as form:
            for name, value in form.multi_items():
                if isinstance(value, UploadFile):
                    files[name] = Sent(name=value.filename or "", content=await value.read())
                else:
                    fields[name] = text = _typed(name, value)
                    lists[name] = (*lists.get(name, ()), text)
    except (ClientDisconnect, UnicodeError) as error:  # left while sending, or a form in no alphabet
        raise HTTPException(400, "The form could not be read; send it once more.") from error
    sent = fields.get("token") or ask.request.headers.get("x-token", "")
    if not hmac.compare_digest(sent.encode("utf-8"), ask.visitor.token.encode("utf-8")):
        raise HTTPException(
            403, "This form was open too long; go back, load the page again and send it once more."
        )
    return replace(ask, fields=fields, lists=lists, files=files)


def _typed(name: str, value: str) -> str:
    """What was typed into a field; browsers end its lines in their own way.

    Raises:
        HTTPException: for characters that nobody types.
    """
    text = value.replace("\r\n", "\n").replace("\r", "\n")
    if _NOT_TYPED.search(name) or _NOT_TYPED.search(text):
        raise HTTPException(
            422, "The form holds characters that nobody types; take them out and send it again."
        )
    return text
