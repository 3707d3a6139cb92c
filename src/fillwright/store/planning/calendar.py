"""Practice plans as an iCalendar file (RFC 5545), for any calendar to take in."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from datetime import datetime, time, timedelta

from fillwright.store.planning.plan import Plan, Why

_FOLD_OCTETS = 75
_PRODUCT = "-//Fillwright//Practice plan//EN"


def icalendar(plans: Sequence[Plan], *, student: str, made: datetime, at: time) -> bytes:
    """Plans as events, one a day; days with nothing to do have none.

    Times are the student's own ("floating", RFC 5545 3.3.5 form 1): half past five, wherever they are.

    Args:
        plans: one for each day.
        student: the name.
        made: the moment at which it was made, in UTC.
        at: when practice begins.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{_PRODUCT}", "CALSCALE:GREGORIAN"]
    for plan in plans:
        if plan.items:
            lines += _event(plan, student, made, at)
    lines.append("END:VCALENDAR")
    return b"".join(part + b"\r\n" for line in lines for part in _folded(line))


def _event(plan: Plan, student: str, made: datetime, at: time) -> list[str]:
    start = datetime.combine(plan.day, at)
    minutes = sum(item.minutes for item in plan.items)
    who = hashlib.sha256(student.encode("utf-8")).hexdigest()[:12]
    return [
        "BEGIN:VEVENT",
        f"UID:practice-{who}-{plan.day:%Y%m%d}@fillwright",
        f"DTSTAMP:{made:%Y%m%dT%H%M%SZ}",
        f"DTSTART:{start:%Y%m%dT%H%M%S}",
        f"DTEND:{start + timedelta(minutes=minutes):%Y%m%dT%H%M%S}",
        f"SUMMARY:{_escaped(f'Drums: {minutes} minutes')}",
        f"DESCRIPTION:{_escaped(chr(10).join(_lines(plan)))}",
        "END:VEVENT",
    ]


def _lines(plan: Plan) -> Iterator[str]:
    for item in plan.items:
        if item.why in (Why.REST, Why.WARM_UP):
            yield f"{item.minutes} min: {item.why.value}. {item.reason}"
        else:
            yield f"{item.minutes} min: {item.title}, at {item.tempo}. {item.reason}"


def _escaped(text: str) -> str:
    r"""Text as RFC 5545 3.3.11 wants it.

    >>> _escaped("Singles, doubles; rest")
    'Singles\\, doubles\\; rest'
    """
    for character, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(character, written)
    return text


def _folded(line: str) -> Iterator[bytes]:
    """A content line in parts of at most 75 octets, no character torn apart (RFC 5545 3.1)."""
    part = b""
    for character in line:
        octets = character.encode("utf-8")
        if len(part) + len(octets) > _FOLD_OCTETS:
            yield part
            part = b" "
        part += octets
    yield part
