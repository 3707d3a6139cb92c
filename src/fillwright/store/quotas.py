"""Quotas of storage: how much the recordings of a student, and of all students of a teacher, may have."""

from __future__ import annotations

from sqlalchemy import ColumnElement, func, select

from fillwright import budget
from fillwright.errors import StoreError
from fillwright.store.schema import student, take, take_media
from fillwright.store.transaction import Transaction


def check_storage(transaction: Transaction, student_number: int, size: int) -> None:
    """Refuse a recording that a student or the teacher has no room for.

    Args:
        transaction: of the teacher.
        student_number: of the student who sends it.
        size: bytes of the recording.

    Raises:
        StoreError: with the bytes that are used and those that are accepted.
    """
    is_own = take.c.student_id == student_number
    is_teachers = student.c.teacher_id == transaction.teacher
    for owner, condition, most in (
        ("This student's", is_own & is_teachers, budget.STUDENT_BYTES),
        ("All students'", is_teachers, budget.TEACHER_BYTES),
    ):
        used = _sum_bytes(transaction, condition)
        if used + size > most:
            raise StoreError(
                f"{owner} recordings have {budget.format_bytes(used)} together; at most "
                f"{budget.format_bytes(most)} are accepted. Delete takes that are not needed any more."
            )


def _sum_bytes(transaction: Transaction, condition: ColumnElement[bool]) -> int:
    length = func.octet_length if transaction.connection.dialect.name == "postgresql" else func.length
    query = select(func.coalesce(func.sum(length(take_media.c.content)), 0))
    joined = take_media.join(take, take.c.id == take_media.c.take_id)
    joined = joined.join(student, student.c.id == take.c.student_id)
    return int(transaction.connection.execute(query.select_from(joined).where(condition)).scalar_one())
