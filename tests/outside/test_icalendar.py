"""Practice plans read back by a library that reads calendars.

Source: RFC 5545
Source: icalendar (the package)
"""

from datetime import UTC, date, datetime, time, timedelta

import icalendar as reader
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillwright.store.planning.calendar import write_icalendar
from fillwright.store.planning.plan import AssignedFill, plan_day, plan_days

WRITTEN = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def content(title: str = "Flams, round; the kit") -> bytes:
    fills = [AssignedFill(lesson=1, fill=f"f{i}", title=title, ladder=(60, 70)) for i in range(9)]
    plans = plan_days(date(2026, 3, 2), fills, [], minutes=45, noise_minutes=480)
    return write_icalendar(plans, student="Pim", written=WRITTEN, at=time(17, 30))


def test_every_day_is_an_event_as_long_as_its_practice() -> None:
    events = reader.Calendar.from_ical(content()).walk("VEVENT")
    assert len(events) == 7
    for offset, event in enumerate(events):
        start = event.decoded("DTSTART")
        assert start == datetime(2026, 3, 2, 17, 30) + timedelta(offset)
        minutes = sum(int(line.split()[0]) for line in str(event["DESCRIPTION"]).splitlines())
        assert event.decoded("DTEND") - start == timedelta(minutes=minutes)
    assert len({str(event["UID"]) for event in events}) == 7


def test_lines_are_short_and_end_as_they_must() -> None:
    raw = content("Ü" * 70)
    assert raw.endswith(b"END:VCALENDAR\r\n")
    lines = raw.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert not any(b"\n" in line or b"\r" in line for line in lines)


@given(st.text(st.characters(blacklist_categories=("Cs", "Cc")), max_size=120))
def test_any_title_is_read_back(title: str) -> None:
    fill = AssignedFill(lesson=1, fill="f", title=title, ladder=(60,))
    plan = plan_day(date(2026, 3, 2), [fill], [], minutes=30, noise_minutes=480)
    raw = write_icalendar([plan], student="Pim", written=WRITTEN, at=time(8, 0))
    (event,) = reader.Calendar.from_ical(raw).walk("VEVENT")
    assert f"{title}, at 60 bpm." in str(event["DESCRIPTION"])


def test_a_day_without_practice_has_no_event() -> None:
    empty = plan_day(date(2026, 3, 2), [], [], minutes=30, noise_minutes=480)
    raw = write_icalendar([empty], student="Pim", written=WRITTEN, at=time(8, 0))
    assert not reader.Calendar.from_ical(raw).walk("VEVENT")
    with pytest.raises(IndexError):
        _ = reader.Calendar.from_ical(raw).walk("VEVENT")[0]
