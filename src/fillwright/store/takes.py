"""Takes with their reports, and what has been passed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, Select, delete, insert, select

from fillwright.errors import StoreError
from fillwright.music.timing import check_tempo
from fillwright.store.criteria import Criteria, verdict
from fillwright.store.database import added
from fillwright.store.desk import Desk
from fillwright.store.lessons import one_lesson
from fillwright.store.schema import passed, student, take, take_media
from fillwright.store.students import one_student

LARGEST_TAKE_BYTES = 40_000_000

ENDINGS = {
    "audio/wav": ".wav",
    "audio/flac": ".flac",
    "audio/ogg": ".ogg",
    "audio/webm": ".webm",
    "audio/mp4": ".m4a",
    "audio/mpeg": ".mp3",
    "audio/aac": ".aac",
    "audio/midi": ".mid",
}
"""The kinds of recordings that are kept, and how their files end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Of:
    """What a take, a pass or some minutes are of.

    Attributes:
        student: number of the student.
        lesson: number of the lesson.
        fill: name of the fill in it.
        tempo: in the meter's beats a minute.
    """

    student: int
    lesson: int
    fill: str
    tempo: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """A take in the store.

    Attributes:
        id: of the take.
        of: what was played.
        recorded: when it came in.
        media_type: of the recording.
        passed: whether it met the criteria of its day.
    """

    id: int
    of: Of
    recorded: datetime
    media_type: str
    passed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Passed:
    """A fill passed at a tempo.

    Attributes:
        of: what was passed.
        at: when.
        take: number of the take that shows it; None for the teacher's word.
    """

    of: Of
    at: datetime
    take: int | None


def add_take(
    desk: Desk,
    of: Of,
    report: Mapping[str, Any],
    recording: tuple[str, bytes],
    *,
    criteria: Criteria,
    picture: str = "",
) -> int:
    """Keep a take with its report, and the pass where it is one; gives the number of the take.

    Args:
        desk: the teacher's.
        of: what was played.
        report: as `listen.plain` gives it.
        recording: its media type and content.
        criteria: what makes a pass.
        picture: the report drawn, as SVG.

    Raises:
        NotThereError: where the teacher has no such student or lesson.
        StoreError: for a recording too large to keep.
    """
    _check(desk, of)
    media_type, content = recording
    if len(content) > LARGEST_TAKE_BYTES:
        raise StoreError(
            f"The recording has {len(content) / 1e6:.0f} MB; at most {LARGEST_TAKE_BYTES // 10**6} are kept."
        )
    good = verdict(report, criteria).passed
    values = {**_columns(of), "recorded": desk.now, "media_type": media_type, "report": dict(report)}
    number = added(desk.connection, take, {**values, "passed": good})
    desk.connection.execute(insert(take_media).values(take_id=number, content=content, picture=picture))
    if good:
        desk.connection.execute(insert(passed).values(**_columns(of), at=desk.now, take_id=number))
    return number


def takes_of(desk: Desk, student_number: int, *, most: int = 200) -> tuple[Take, ...]:
    """A student's takes, the newest first.

    Raises:
        NotThereError: where the teacher has no such student.
    """
    one_student(desk, student_number)
    query = select(*_LISTED).where(take.c.student_id == student_number).order_by(take.c.id.desc()).limit(most)
    return tuple(map(_take, desk.rows(query)))


def one_take(desk: Desk, number: int) -> Take:
    """The take of that number.

    Raises:
        NotThereError: where the teacher has none.
    """
    return _take(desk.row(_mine(desk, take.c.id == number), "take"))


def report_of(desk: Desk, number: int) -> Mapping[str, Any]:
    """The report of a take, as it was kept.

    Raises:
        NotThereError: where the teacher has none.
    """
    one_take(desk, number)
    found: Mapping[str, Any] = desk.row(select(take.c.report).where(take.c.id == number), "take").report
    return found


def recording_of(desk: Desk, number: int) -> tuple[str, bytes]:
    """Media type and content of a take.

    Raises:
        NotThereError: where the teacher has none.
    """
    found = one_take(desk, number)
    query = select(take_media.c.content).where(take_media.c.take_id == number)
    return found.media_type, bytes(desk.row(query, "recording").content)


def picture_of(desk: Desk, number: int) -> str:
    """The report of a take drawn, as SVG; "" where there is none.

    Raises:
        NotThereError: where the teacher has no such take.
    """
    one_take(desk, number)
    query = select(take_media.c.picture).where(take_media.c.take_id == number)
    return str(desk.row(query, "picture").picture)


def delete_take(desk: Desk, number: int) -> None:
    """Delete a take and its recording; a pass that it showed stays, by the teacher's word.

    Raises:
        NotThereError: where the teacher has none.
    """
    one_take(desk, number)
    desk.connection.execute(delete(take).where(take.c.id == number))


def say_passed(desk: Desk, of: Of) -> None:
    """Let a fill be passed by the teacher's word.

    Raises:
        NotThereError: where the teacher has no such student or lesson.
        TempoError: for a tempo that can't be played.
    """
    _check(desk, of)
    desk.connection.execute(insert(passed).values(**_columns(of), at=desk.now, take_id=None))


def passes_of(desk: Desk, student_number: int) -> tuple[Passed, ...]:
    """Everything that a student has passed, in order of time.

    Raises:
        NotThereError: where the teacher has no such student.
    """
    one_student(desk, student_number)
    query = select(passed).where(passed.c.student_id == student_number).order_by(passed.c.at, passed.c.id)
    return tuple(Passed(of=_of(row), at=row.at, take=row.take_id) for row in desk.rows(query))


def _check(desk: Desk, of: Of) -> None:
    one_student(desk, of.student)
    one_lesson(desk, of.lesson)
    check_tempo(of.tempo)


def _columns(of: Of) -> dict[str, Any]:
    return {"student_id": of.student, "lesson_id": of.lesson, "fill": of.fill, "tempo": of.tempo}


def _of(row: Row[Any]) -> Of:
    return Of(student=row.student_id, lesson=row.lesson_id, fill=row.fill, tempo=row.tempo)


_LISTED = [column for column in take.c if column is not take.c.report]
"""Reports are long: they are read one by one."""


def _mine(desk: Desk, *where: Any) -> Select[Any]:
    return select(*_LISTED).join(student).where(student.c.teacher_id == desk.teacher, *where)


def _take(row: Row[Any]) -> Take:
    return Take(
        id=row.id,
        of=_of(row),
        recorded=row.recorded,
        media_type=row.media_type,
        passed=row.passed,
    )
