"""Takes and packs that wait for their turn: at most as many are worked on at once as there are cores.

Only this process knows them. Each runs in a thread, which waits for a process that does the work.
"""

from __future__ import annotations

import logging
import os
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum
from threading import Event, Lock, Thread

from fillwright import budget
from fillwright.errors import FillwrightError, NotThereError
from fillwright.studio.work.full_disk import FULL_DISK, is_full_disk

_LOG = logging.getLogger("fillwright.studio")

PATIENCE_SECONDS = 10.0  # until a sender sees the page of a take that waits; most are measured before; ours
_KEPT = 500  # jobs that have ended and can still be asked for; ours
_ID_BYTES = 12  # random bytes of a job's name, so that no two are alike; only its owner is answered; ours


class WorkKind(Enum):
    """Kinds of work. Takes come before packs, because somebody waits in front of the page."""

    TAKE = "take"
    PACK = "pack"


class JobState(Enum):
    """Progress of a job."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"


@dataclass(slots=True, kw_only=True, eq=False)
class Job:
    """One piece of work. Mutable; the queue changes it.

    Attributes:
        id: its name in addresses.
        kind: of work.
        teacher: number of the teacher whose data it uses.
        student: number of the student whose take it is; None for a pack.
        work: does it, and returns the path of the page that shows the result.
        clean_up: called once when the job has ended, however it ended.
        state: how far it is.
        result: path of the page that shows the result; "" before that.
        error: reason of a failure.
        stop: set once it is cancelled.
        ended: set once it has ended.
    """

    id: str
    kind: WorkKind
    teacher: int
    student: int | None
    work: Callable[[Job], str]
    clean_up: Callable[[], None]
    state: JobState = JobState.WAITING
    result: str = ""
    error: FillwrightError | None = None
    stop: Event = field(default_factory=Event)
    ended: Event = field(default_factory=Event)

    @property
    def is_pending(self) -> bool:
        """True while it waits or runs."""
        return self.state in (JobState.WAITING, JobState.RUNNING)


class WorkQueue:
    """Every job since the studio was started. Mutable, and safe among threads."""

    def __init__(self, cores: int | None = None, patience: float = PATIENCE_SECONDS) -> None:
        """Start without any jobs.

        Args:
            cores: number of jobs that may run at once; the number of cores by default.
            patience: seconds until the sender of a take sees the page of one that waits.
        """
        self.cores = cores or os.cpu_count() or 1
        self.patience = patience
        self._jobs: dict[str, Job] = {}
        self._lock = Lock()

    def add(
        self,
        kind: WorkKind,
        work: Callable[[Job], str],
        *,
        teacher: int,
        student: int | None = None,
        clean_up: Callable[[], None] = lambda: None,
    ) -> Job:
        """Add a job at the end of the queue, and start it if it is its turn.

        Raises:
            FillwrightError: for too many that wait already.
        """
        name = secrets.token_urlsafe(_ID_BYTES)
        job = Job(id=name, kind=kind, teacher=teacher, student=student, work=work, clean_up=clean_up)
        with self._lock:
            self._check_pending(kind, teacher, student)
            self._jobs[job.id] = job
            self._forget_old()
        self._start_next()
        return job

    def check_pending(self, kind: WorkKind, *, teacher: int, student: int | None = None) -> None:
        """Refuse work of a teacher or a student who has enough in the queue.

        Raises:
            FillwrightError: with the number that is accepted.
        """
        with self._lock:
            self._check_pending(kind, teacher, student)

    def find(self, name: str, *, teacher: int, student: int | None) -> Job:
        """Return a job of a teacher and a student.

        Raises:
            NotThereError: if it is somebody else's, or forgotten, or lost because the studio was stopped.
        """
        with self._lock:
            job = self._jobs.get(name)
        if job is None or (job.teacher, job.student) != (teacher, student):
            raise NotThereError(
                "This take is not waiting any more. If it is not in the list of takes, send it again."
            )
        return job

    def place(self, job: Job) -> int:
        """Return the place of a job among those that wait, from 1; 0 if it does not wait."""
        with self._lock:
            waiting = sorted(self._select(JobState.WAITING), key=lambda item: item.kind is WorkKind.PACK)
        return waiting.index(job) + 1 if job in waiting else 0

    def cancel(self, job: Job) -> None:
        """Cancel a job. One that runs is ended within a second."""
        job.stop.set()
        with self._lock:
            was_waiting = job.state is JobState.WAITING
            if was_waiting:
                job.state = JobState.CANCELLED
        if was_waiting:
            _end(job)

    def close(self) -> None:
        """Cancel everything."""
        with self._lock:
            jobs = [job for job in self._jobs.values() if job.is_pending]
        for job in jobs:
            self.cancel(job)

    def _check_pending(self, kind: WorkKind, teacher: int, student: int | None) -> None:
        pending = [
            job for job in self._jobs.values() if job.is_pending and (job.kind, job.teacher) == (kind, teacher)
        ]
        student_jobs = [job for job in pending if job.student == student]
        if kind is WorkKind.PACK:
            limits = [(pending, budget.PENDING_PACKS_TEACHER, "packs of yours")]
        else:
            limits = [
                (student_jobs, budget.PENDING_TAKES_STUDENT, "takes of this student"),
                (pending, budget.PENDING_TAKES_TEACHER, "takes of this teacher's students"),
            ]
        for jobs, most, noun in limits:
            if len(jobs) >= most:
                raise FillwrightError(
                    f"{len(jobs)} {noun} wait already, the most that may; try again when one is done."
                )

    def _select(self, state: JobState) -> list[Job]:
        return [job for job in self._jobs.values() if job.state is state]

    def _forget_old(self) -> None:
        ended = [job for job in self._jobs.values() if not job.is_pending]
        for job in ended[:-_KEPT]:
            del self._jobs[job.id]

    def _start_next(self) -> None:
        """Start jobs while there are cores free; one core is kept for takes where there are several."""
        with self._lock:
            running = self._select(JobState.RUNNING)
            packs = sum(job.kind is WorkKind.PACK for job in running)
            chosen: list[Job] = []
            for job in sorted(self._select(JobState.WAITING), key=lambda item: item.kind is WorkKind.PACK):
                is_pack = job.kind is WorkKind.PACK
                if len(running) + len(chosen) >= self.cores or (is_pack and packs >= max(1, self.cores - 1)):
                    break
                packs += is_pack
                job.state = JobState.RUNNING
                chosen.append(job)
        for job in chosen:
            Thread(target=self._run, args=(job,), name=f"{job.kind.value} {job.id}", daemon=True).start()

    def _run(self, job: Job) -> None:
        state = JobState.FAILED
        try:
            job.result = job.work(job)
            state = JobState.DONE
        except FillwrightError as error:
            job.error = FillwrightError(FULL_DISK) if is_full_disk(error) else error
            if job.stop.is_set():
                state = JobState.CANCELLED
        except OSError as error:
            job.error = FillwrightError(_describe_failure(error))
            job.error.__cause__ = error
        except Exception:
            _LOG.exception("work on a %s", job.kind.value)
            sentence = f"This {job.kind.value} can't be worked on because of an error in Fillwright."
            job.error = FillwrightError(sentence)
        finally:
            with self._lock:
                job.state = state
            _end(job)
            self._start_next()


def _describe_failure(error: OSError) -> str:
    return FULL_DISK if is_full_disk(error) else f"This can't be done: {error.strerror or error}."


def _end(job: Job) -> None:
    """Clean up after a job, and wake those that wait for it."""
    try:
        job.clean_up()
    except OSError:
        _LOG.exception("cleaning up after a %s", job.kind.value)
    finally:
        job.ended.set()
