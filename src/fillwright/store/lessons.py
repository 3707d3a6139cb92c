"""Series and lessons: the text of every lesson as written, every saved version kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, Select, delete, insert, select, update

from fillwright.lesson.file import parse_lesson
from fillwright.store.database import added
from fillwright.store.desk import Desk
from fillwright.store.schema import lesson, lesson_version, series


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A numbered series of lessons."""

    id: int
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """A lesson as it stands in its series.

    Attributes:
        id: of the lesson.
        series: number of its series.
        number: in the series, as its newest text says.
        title: as its newest text says.
        put_away: whether it is no longer shown in the series.
    """

    id: int
    series: int
    number: int
    title: str
    put_away: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One saved text of a lesson."""

    id: int
    saved: datetime
    text: str


def add_series(desk: Desk, title: str) -> int:
    """Begin a series; gives its number.

    Raises:
        StoreError: where there is one of that title.
    """
    values = {"teacher_id": desk.teacher, "title": title}
    return desk.add(series, values, f'There is already a series called "{title}".')


def all_series(desk: Desk) -> tuple[Series, ...]:
    """Every series of the teacher, the oldest first."""
    query = select(series.c.id, series.c.title).where(series.c.teacher_id == desk.teacher)
    return tuple(Series(id=row.id, title=row.title) for row in desk.rows(query.order_by(series.c.id)))


def one_series(desk: Desk, number: int) -> Series:
    """The series of that number.

    Raises:
        NotThereError: where the teacher has none.
    """
    query = select(series.c.id, series.c.title).where(
        series.c.id == number, series.c.teacher_id == desk.teacher
    )
    row = desk.row(query, "series")
    return Series(id=row.id, title=row.title)


def lessons_of(desk: Desk, series_number: int, *, put_away: bool = False) -> tuple[Saved, ...]:
    """The lessons of a series in order, those that were put away only where asked.

    Raises:
        NotThereError: where the teacher has no such series.
    """
    one_series(desk, series_number)
    query = select(lesson).where(lesson.c.series_id == series_number)
    if not put_away:
        query = query.where(lesson.c.put_away.is_(False))
    return tuple(_saved(row) for row in desk.rows(query.order_by(lesson.c.number, lesson.c.id)))


def one_lesson(desk: Desk, number: int) -> Saved:
    """The lesson of that number.

    Raises:
        NotThereError: where the teacher has none.
    """
    return _saved(desk.row(_mine(desk).where(lesson.c.id == number), "lesson"))


def newest(desk: Desk, number: int) -> Version:
    """The text of a lesson as last saved.

    Raises:
        NotThereError: where the teacher has no such lesson.
    """
    return versions(desk, number)[0]


def versions(desk: Desk, number: int) -> tuple[Version, ...]:
    """Every saved text of a lesson, the newest first.

    Raises:
        NotThereError: where the teacher has no such lesson.
    """
    one_lesson(desk, number)
    query = select(lesson_version).where(lesson_version.c.lesson_id == number)
    rows = desk.rows(query.order_by(lesson_version.c.id.desc()))
    return tuple(Version(id=row.id, saved=row.saved, text=row.text) for row in rows)


def add_lesson(desk: Desk, series_number: int, text: str) -> int:
    """Add a lesson to a series; gives its number in the store.

    Raises:
        LessonFileError: for mistakes in the text.
        NotThereError: where the teacher has no such series.
    """
    one_series(desk, series_number)
    read = parse_lesson(text)
    values = {"series_id": series_number, "number": read.number, "title": read.title, "put_away": False}
    number = added(desk.connection, lesson, values)
    _add_version(desk, number, text)
    return number


def save_text(desk: Desk, number: int, text: str) -> bool:
    """Save another version of a lesson's text; gives whether it differs from the newest one.

    Raises:
        LessonFileError: for mistakes in the text; nothing is saved then.
        NotThereError: where the teacher has no such lesson.
    """
    if newest(desk, number).text == text:
        return False
    read = parse_lesson(text)
    change = update(lesson).where(lesson.c.id == number)
    desk.connection.execute(change.values(number=read.number, title=read.title))
    _add_version(desk, number, text)
    return True


def put_away(desk: Desk, number: int, *, away: bool = True) -> None:
    """Take a lesson out of its series, or back in; takes and progress stay.

    Raises:
        NotThereError: where the teacher has no such lesson.
    """
    one_lesson(desk, number)
    desk.connection.execute(update(lesson).where(lesson.c.id == number).values(put_away=away))


def delete_series(desk: Desk, number: int) -> None:
    """Delete a series with all its lessons, assignments, takes and progress.

    Raises:
        NotThereError: where the teacher has none.
    """
    one_series(desk, number)
    desk.connection.execute(delete(series).where(series.c.id == number))


def _add_version(desk: Desk, number: int, text: str) -> None:
    desk.connection.execute(insert(lesson_version).values(lesson_id=number, saved=desk.now, text=text))


def _mine(desk: Desk) -> Select[Any]:
    return select(lesson).join(series).where(series.c.teacher_id == desk.teacher)


def _saved(row: Row[Any]) -> Saved:
    return Saved(id=row.id, series=row.series_id, number=row.number, title=row.title, put_away=row.put_away)
