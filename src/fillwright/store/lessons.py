"""Series and lessons: every saved version of a lesson's text is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, Select, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from fillwright.errors import StoreError
from fillwright.lesson.file import parse_lesson
from fillwright.store.database import add_row
from fillwright.store.schema import lesson, lesson_version, series
from fillwright.store.transaction import Transaction

LONGEST_TITLE = 80
"""Characters of a series title, as the table has room for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A numbered series of lessons."""

    id: int
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedLesson:
    """A lesson in its series.

    Attributes:
        id: of the lesson.
        series: number of its series.
        number: of the lesson in the series, from its newest text.
        title: from its newest text.
        is_removed: True if the series no longer shows it.
    """

    id: int
    series: int
    number: int
    title: str
    is_removed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One saved text of a lesson."""

    id: int
    saved: datetime
    text: str


def add_series(transaction: Transaction, title: str) -> int:
    """Add a series and return its number.

    Raises:
        StoreError: for a title that is empty, too long, or used by another series.
    """
    values = {"teacher_id": transaction.teacher, "title": _check_title(title)}
    return transaction.add(series, values, _describe_clash(title))


def rename_series(transaction: Transaction, number: int, title: str) -> None:
    """Change the title of a series.

    Raises:
        NotThereError: if the teacher has no such series.
        StoreError: for a title that is empty, too long, or used by another series.
    """
    get_series(transaction, number)
    change = update(series).where(series.c.id == number).values(title=_check_title(title))
    try:
        with transaction.connection.begin_nested():
            transaction.connection.execute(change)
    except IntegrityError as error:
        raise StoreError(_describe_clash(title)) from error


def list_series(transaction: Transaction) -> tuple[Series, ...]:
    """List the teacher's series, the oldest first."""
    query = select(series.c.id, series.c.title).where(series.c.teacher_id == transaction.teacher)
    return tuple(
        Series(id=row.id, title=row.title) for row in transaction.fetch_all(query.order_by(series.c.id))
    )


def get_series(transaction: Transaction, number: int) -> Series:
    """Return the series of that number.

    Raises:
        NotThereError: if the teacher has none.
    """
    query = select(series.c.id, series.c.title).where(
        series.c.id == number, series.c.teacher_id == transaction.teacher
    )
    row = transaction.fetch_one(query, "series")
    return Series(id=row.id, title=row.title)


def delete_series(transaction: Transaction, number: int) -> None:
    """Delete a series with all its lessons, assignments, takes and progress.

    Raises:
        NotThereError: if the teacher has no such series.
    """
    get_series(transaction, number)
    transaction.connection.execute(delete(series).where(series.c.id == number))


def list_lessons(
    transaction: Transaction, series_number: int, *, include_removed: bool = False
) -> tuple[SavedLesson, ...]:
    """List the lessons of a series in order, without the removed ones unless asked.

    Raises:
        NotThereError: if the teacher has no such series.
    """
    get_series(transaction, series_number)
    query = select(lesson).where(lesson.c.series_id == series_number)
    if not include_removed:
        query = query.where(lesson.c.put_away.is_(False))
    return tuple(
        _read_lesson(row) for row in transaction.fetch_all(query.order_by(lesson.c.number, lesson.c.id))
    )


def get_lesson(transaction: Transaction, number: int) -> SavedLesson:
    """Return the lesson of that number in the store.

    Raises:
        NotThereError: if the teacher has none.
    """
    return _read_lesson(
        transaction.fetch_one(_select_lessons(transaction).where(lesson.c.id == number), "lesson")
    )


def get_newest_version(transaction: Transaction, number: int) -> Version:
    """Return the newest text of a lesson.

    Raises:
        NotThereError: if the teacher has no such lesson.
    """
    return list_versions(transaction, number)[0]


def list_versions(transaction: Transaction, number: int) -> tuple[Version, ...]:
    """List every saved text of a lesson, the newest first.

    Raises:
        NotThereError: if the teacher has no such lesson.
    """
    get_lesson(transaction, number)
    query = select(lesson_version).where(lesson_version.c.lesson_id == number)
    rows = transaction.fetch_all(query.order_by(lesson_version.c.id.desc()))
    return tuple(Version(id=row.id, saved=row.saved, text=row.text) for row in rows)


def add_lesson(transaction: Transaction, series_number: int, text: str) -> int:
    """Add a lesson to a series and return its number in the store.

    Raises:
        TableError: for mistakes in the text.
        NotThereError: if the teacher has no such series.
    """
    get_series(transaction, series_number)
    parsed = parse_lesson(text)
    values = {"series_id": series_number, "number": parsed.number, "title": parsed.title, "put_away": False}
    number = add_row(transaction.connection, lesson, values)
    _add_version(transaction, number, text)
    return number


def save_text(transaction: Transaction, number: int, text: str) -> bool:
    """Save a new version of a lesson's text; return False, saving nothing, if it equals the newest one.

    Raises:
        TableError: for mistakes in the text; nothing is saved then.
        NotThereError: if the teacher has no such lesson.
    """
    if get_newest_version(transaction, number).text == text:
        return False
    parsed = parse_lesson(text)
    change = update(lesson).where(lesson.c.id == number)
    transaction.connection.execute(change.values(number=parsed.number, title=parsed.title))
    _add_version(transaction, number, text)
    return True


def set_lesson_removed(transaction: Transaction, number: int, *, removed: bool) -> None:
    """Remove a lesson from its series, or restore it. Its takes and progress stay.

    Raises:
        NotThereError: if the teacher has no such lesson.
    """
    get_lesson(transaction, number)
    transaction.connection.execute(update(lesson).where(lesson.c.id == number).values(put_away=removed))


def _check_title(title: str) -> str:
    if not 0 < len(title) <= LONGEST_TITLE:
        raise StoreError(f"The title of a series has {len(title)} characters; write 1 to {LONGEST_TITLE}.")
    return title


def _describe_clash(title: str) -> str:
    return f'There is already a series called "{title}"; choose another title.'


def _add_version(transaction: Transaction, number: int, text: str) -> None:
    values = {"lesson_id": number, "saved": transaction.now, "text": text}
    transaction.connection.execute(insert(lesson_version).values(**values))


def _select_lessons(transaction: Transaction) -> Select[Any]:
    return select(lesson).join(series).where(series.c.teacher_id == transaction.teacher)


def _read_lesson(row: Row[Any]) -> SavedLesson:
    return SavedLesson(
        id=row.id, series=row.series_id, number=row.number, title=row.title, is_removed=row.put_away
    )
