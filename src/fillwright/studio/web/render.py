"""Pages from templates, and the way back to a page after a form."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.responses import HTMLResponse, RedirectResponse, Response

from fillwright.errors import FillwrightError, TableError
from fillwright.lesson.glossary import get_term
from fillwright.studio.web.forms import FormError
from fillwright.studio.web.request import PageRequest
from fillwright.studio.web.versions import EditConflictError
from fillwright.studio.work.full_disk import FULL_DISK, FULL_DISK_STATUS, is_full_disk

_ENVIRONMENT = Environment(
    loader=PackageLoader("fillwright.studio"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)

_UNPROCESSABLE = 422  # HTTP status of a form with mistakes (RFC 9110, 15.5.21)
_CONFLICT = 409
"""HTTP status of a form that was made from an older version (RFC 9110, 15.5.10)."""


def format_day(when: date) -> str:
    """Return a day as people write it; the day of a moment is that of the studio's time zone.

    >>> format_day(date(2026, 3, 1))
    '1 March 2026'
    """
    if isinstance(when, datetime):
        when = when.astimezone()
    return f"{when.day} {when:%B %Y}"


def format_time(moment: datetime) -> str:
    """Return the time of day of a moment in the studio's time zone."""
    return f"{moment.astimezone():%H:%M}"


_ENVIRONMENT.filters.update(day=format_day, time_of_day=format_time)
_ENVIRONMENT.globals["explain"] = get_term


def render_page(
    request: PageRequest,
    template: str,
    *,
    status: int | None = None,
    error: FillwrightError | None = None,
    **values: Any,
) -> Response:
    """Render a page of the studio.

    Args:
        request: to answer; its visitor's role decides what the page offers.
        template: file name.
        status: of the answer; by default 200, or with an error 422, 409 (conflict of edits), 507 (full disk).
        error: mistakes in the form that was sent, for the page to list.
        values: variables of the template.
    """
    text = _ENVIRONMENT.get_template(template).render(
        visitor=request.visitor,
        school=request.setup.school,
        accepts_passwords=request.setup.accepts_passwords,
        path=request.http.url.path,
        message=MESSAGES.get(request.query("done"), ""),
        errors=list_sentences(error),
        wrong_fields=set(error.by_field) if isinstance(error, FormError) else set(),
        **values,
    )
    return HTMLResponse(text, status_code=status or (_choose_status(error) if error else 200))


def _choose_status(error: FillwrightError) -> int:
    if isinstance(error, EditConflictError):
        return _CONFLICT
    return FULL_DISK_STATUS if is_full_disk(error) else _UNPROCESSABLE


def list_sentences(error: FillwrightError | None) -> list[str]:
    """Return the sentences of an error, one for each mistake, without line numbers."""
    if error is None:
        return []
    if isinstance(error, EditConflictError):
        return error.sentences
    if is_full_disk(error):
        return [FULL_DISK]
    if isinstance(error, TableError):
        return [mistake.describe(lines=False) for mistake in error.mistakes]
    return [str(error)]


MESSAGES: Mapping[str, str] = {
    "saved": "Saved.",
    "added": "Added.",
    "deleted": "Deleted.",
    "removed": "Removed. You can restore it below.",
    "restored": "Restored.",
    "pinned": "Pinned. The fill is now written out in the lesson's text.",
    "assigned": "Assigned.",
    "unassigned": "Unassigned.",
    "cancelled": "Cancelled.",
    "passed": "Marked as passed.",
    "logged": "Logged.",
    "signed-out": "You are signed out.",
    "session-ended": "Signed out there.",
}
"""Messages on top of a page after a form was sent. The address carries the word, never the sentence."""


def redirect(path: str, done: str = "") -> Response:
    """Return a redirect to a page of the studio after a form, so that loading it again sends nothing twice.

    Args:
        path: of the page; the start page instead of any address outside the studio.
        done: word of the message to show, one of MESSAGES; "" for none.
    """
    if not path.startswith("/") or path.startswith(("//", "/\\")) or not path.isprintable():
        path = "/"
    joint = "&" if "?" in path else "?"
    return RedirectResponse(f"{path}{joint}done={done}" if done else path, status_code=303)
