"""Pages from templates."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.responses import HTMLResponse, RedirectResponse, Response

from fillwright.studio.web.request import Ask

_ENVIRONMENT = Environment(
    loader=PackageLoader("fillwright.studio"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def day(when: date) -> str:
    """A day as a person writes it; that of a moment is the day on the wall where the studio runs.

    >>> day(date(2026, 3, 1))
    '1 March 2026'
    """
    if isinstance(when, datetime):
        when = when.astimezone()
    return f"{when.day} {when:%B %Y}"


def time_of_day(moment: datetime) -> str:
    """The time on the wall where the studio runs."""
    return f"{moment.astimezone():%H:%M}"


_ENVIRONMENT.filters.update(day=day, time_of_day=time_of_day)


def page(ask: Ask, template: str, *, status: int = 200, **values: Any) -> Response:
    """A page of the studio.

    Args:
        ask: the request; who asks decides what the page offers.
        template: name of its template.
        status: of the answer.
        values: what the template speaks of.
    """
    text = _ENVIRONMENT.get_template(template).render(
        visitor=ask.visitor,
        school=ask.setup.school,
        path=ask.request.url.path,
        said=ask.request.query_params.get("said", ""),
        sentences=SENTENCES,
        **values,
    )
    return HTMLResponse(text, status_code=status)


SENTENCES: Mapping[str, str] = {
    "saved": "Saved.",
    "deleted": "Deleted.",
    "dropped": "Dropped. The version before it stands below the lesson's text.",
    "brought-back": "Brought back.",
    "pinned": "Kept as it is, written out in the lesson's text.",
    "assigned": "Assigned.",
    "taken-back": "Taken back.",
    "passed": "Marked as passed.",
    "logged": "Written down.",
    "signed-out": "You are signed out.",
}
"""What a page may say on top after something was done; the address carries the word, never the sentence."""


def back_to(path: str, said: str = "") -> Response:
    """Lead to a page of our own after a form was sent, so that loading it again sends nothing twice."""
    if not path.startswith("/") or path.startswith(("//", "/\\")) or not path.isprintable():
        path = "/"
    joined = "&" if "?" in path else "?"
    return RedirectResponse(f"{path}{joined}said={said}" if said else path, status_code=303)
