"""Practice plans as an iCalendar file (RFC 5545), which any calendar can import."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from datetime import datetime, time, timedelta

from fillwright.store.planning.plan import DayPlan, ItemKind

_FOLD_OCTETS = 75
"""Octets of a line (RFC 5545, 3.1)."""

_PRODUCT = "-//Fillwright//Practice plan//EN"


def write_icalendar(plans: Sequence[DayPlan], *, student: str, written: datetime, at: time) -> bytes:
    """Write plans as events, one a day; days without items have none.

    Times have no time zone ("floating", RFC 5545 3.3.5 form 1): half past five in the student's own.

    Args:
        plans: one for each day.
        student: their name.
        written: time at which the file is written, in UTC.
        at: time of day at which practice begins.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{_PRODUCT}", "CALSCALE:GREGORIAN"]
    for plan in plans:
        if plan.items:
            lines += _write_event(plan, student, written, at)
    lines.append("END:VCALENDAR")
    return b"".join(part + b"\r\n" for line in lines for part in _fold(line))


def _write_event(plan: DayPlan, student: str, written: datetime, at: time) -> list[str]:
    start = datetime.combine(plan.day, at)
    minutes = sum(item.minutes for item in plan.items)
    who = hashlib.sha256(student.encode("utf-8")).hexdigest()[:12]
    return [
        "BEGIN:VEVENT",
        f"UID:practice-{who}-{plan.day:%Y%m%d}@fillwright",
        f"DTSTAMP:{written:%Y%m%dT%H%M%SZ}",
        f"DTSTART:{start:%Y%m%dT%H%M%S}",
        f"DTEND:{start + timedelta(minutes=minutes):%Y%m%dT%H%M%S}",
        f"SUMMARY:{_escape(f'Drums: {minutes} minutes')}",
        f"DESCRIPTION:{_escape(chr(10).join(_list_lines(plan)))}",
        "END:VEVENT",
    ]


def _list_lines(plan: DayPlan) -> Iterator[str]:
    for item in plan.items:
        if item.kind in (ItemKind.REST, ItemKind.WARM_UP):
            yield f"{item.minutes} min: {item.kind.value}. {item.reason}"
        else:
            yield f"{item.minutes} min: {item.title}, at {item.tempo} bpm. {item.reason}"


def _escape(text: str) -> str:
    r"""Escape a text as RFC 5545 3.3.11 requires.

    >>> _escape("Singles, doubles; rest")
    'Singles\\, doubles\\; rest'
    """
    for character, escape in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(character, escape)
    return text


def _fold(line: str) -> Iterator[bytes]:
    """Fold a content line into parts of at most 75 octets, never inside a character (RFC 5545 3.1)."""
    part = b""
    for character in line:
        octets = character.encode("utf-8")
        if len(part) + len(octets) > _FOLD_OCTETS:
            yield part
            part = b" "
        part += octets
    yield part
