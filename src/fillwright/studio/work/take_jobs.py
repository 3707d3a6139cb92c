"""A take in the queue: its recording in a temporary folder until it is measured, then both in the store."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from msgspec.structs import replace

from fillwright import budget
from fillwright.errors import FillwrightError
from fillwright.isolation.run import run_isolated
from fillwright.listen.report.stored.schema import ReportRecord
from fillwright.listen.report.stored.storage import decode_report
from fillwright.store.database import Store
from fillwright.store.quotas import check_storage
from fillwright.store.settings import read_criteria
from fillwright.store.takes import FILE_SUFFIXES, Exercise, add_take
from fillwright.store.transaction import Clock, begin_writing
from fillwright.studio.work.isolated import assess_recording
from fillwright.studio.work.queue import Job, WorkKind, WorkQueue
from fillwright.studio.work.scratch import delete_scratch, make_scratch
from fillwright.take.reference import Reference


@dataclass(frozen=True, slots=True, kw_only=True)
class SentTake:
    """A recording that a student or teacher sent.

    Attributes:
        exercise: that was played.
        reference: what was to be played.
        media_type: of the recording.
        content: of the recording.
        describe: gives further rows of numbers for the report.
    """

    exercise: Exercise
    reference: Reference
    media_type: str
    content: bytes
    describe: Callable[[ReportRecord], list[tuple[str, str]]]


def queue_take(queue: WorkQueue, take: SentTake, *, store: Store, teacher: int, clock: Clock) -> Job:
    """Put a take into the queue. Its result is the path of its page.

    Raises:
        FillwrightError: for too many that wait already.
        OSError: if the recording can't be written, for example because the disk is full.
    """
    folder = make_scratch()
    path = folder / f"take{FILE_SUFFIXES[take.media_type]}"
    student = take.exercise.student
    try:
        path.write_bytes(take.content)
        work = _make_work(take, path, store=store, teacher=teacher, clock=clock)
        return queue.add(
            WorkKind.TAKE, work, teacher=teacher, student=student, clean_up=lambda: delete_scratch(folder)
        )
    except (OSError, FillwrightError):
        delete_scratch(folder)
        raise


def _make_work(take: SentTake, path: Path, *, store: Store, teacher: int, clock: Clock) -> Callable[[Job], str]:
    """Return the work on a take, without its content, which waits in a file."""
    exercise, reference, media_type, describe = take.exercise, take.reference, take.media_type, take.describe

    def work(job: Job) -> str:
        answer = json.loads(
            run_isolated(
                assess_recording,
                str(path),
                reference,
                seconds=budget.WORK_SECONDS,
                megabytes=budget.WORK_MEGABYTES,
                subject="This recording",
                stop=job.stop,
            )
        )
        report = decode_report(answer["report"])
        report = replace(report, numbers=(*report.numbers, *describe(report)))
        recording = (media_type, path.read_bytes())
        with begin_writing(store, teacher, clock) as transaction:
            check_storage(transaction, exercise.student, len(recording[1]))
            criteria = read_criteria(transaction)
            number = add_take(
                transaction, exercise, report, recording, criteria=criteria, picture=answer["drawing"]
            )
            if job.stop.is_set():
                raise FillwrightError("This recording was cancelled.")
        return f"/takes/{number}"

    return work
