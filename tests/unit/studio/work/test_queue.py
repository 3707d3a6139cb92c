"""Work that waits: its order, how much runs at once, cancelling, failing."""

from __future__ import annotations

import errno
from threading import Event, Lock

import pytest

from fillwright import budget
from fillwright.errors import FillwrightError, NotThereError, TakeError
from fillwright.studio.work.full_disk import FULL_DISK
from fillwright.studio.work.queue import JobState, WorkKind, WorkQueue


class _Gate:
    """Work that ends when the gate opens; counts how many run, and in which order they began."""

    def __init__(self):
        self.open, self.began, self.most, self._running, self._lock = Event(), [], 0, 0, Lock()

    def work(self, name):
        def run(job):
            with self._lock:
                self.began.append(name)
                self._running += 1
                self.most = max(self.most, self._running)
            while not (self.open.wait(0.01) or job.stop.is_set()):
                pass
            with self._lock:
                self._running -= 1
            return f"/{name}"

        return run


@pytest.fixture
def gate():
    made = _Gate()
    yield made
    made.open.set()


def _add(queue, gate, name, kind=WorkKind.TAKE, *, student=2, **settings):
    return queue.add(kind, gate.work(name), teacher=1, student=student, **settings)


def _finish(*jobs):
    assert all(job.ended.wait(timeout=30) for job in jobs)


def test_no_more_run_at_once_than_there_are_cores(gate):
    queue = WorkQueue(cores=2)
    jobs = [_add(queue, gate, str(number), student=number) for number in range(6)]
    assert [queue.place(job) for job in jobs] == [0, 0, 1, 2, 3, 4]
    gate.open.set()
    _finish(*jobs)
    assert gate.most == 2
    assert sorted(gate.began) == [str(number) for number in range(6)]
    assert [job.result for job in jobs] == [f"/{number}" for number in range(6)]


def test_takes_come_before_packs_and_packs_leave_a_core_free(gate):
    queue = WorkQueue(cores=2)
    packs = [_add(queue, gate, f"pack {number}", WorkKind.PACK) for number in range(2)]
    takes = [_add(queue, gate, f"take {number}") for number in range(2)]
    assert [queue.place(job) for job in (*packs, *takes)] == [0, 2, 0, 1]
    gate.open.set()
    _finish(*packs, *takes)
    assert sorted(gate.began[:2]) == ["pack 0", "take 0"]


def test_a_cancelled_job_is_cleaned_up_once_and_never_begins(gate):
    queue, cleaned = WorkQueue(cores=1), []
    running = _add(queue, gate, "running", clean_up=lambda: cleaned.append("running"))
    waiting = _add(queue, gate, "waiting", clean_up=lambda: cleaned.append("waiting"))
    queue.cancel(waiting)
    queue.cancel(waiting)
    assert (waiting.state, cleaned, queue.place(waiting)) == (JobState.CANCELLED, ["waiting"], 0)
    queue.cancel(running)
    _finish(running, waiting)
    assert cleaned == ["waiting", "running"]
    assert gate.began == ["running"]


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (TakeError("It is silent."), "It is silent."),
        (OSError(errno.ENOSPC, "No space left on device"), FULL_DISK),
        (OSError(errno.EACCES, "Permission denied"), "This can't be done: Permission denied."),
        (KeyError("Pim"), "This take can't be worked on because of an error in Fillwright."),
    ],
)
def test_a_failure_is_one_sentence_and_the_next_job_starts(gate, error, sentence):
    def fail(_job):
        raise error

    queue, cleaned = WorkQueue(cores=1), []
    failed = queue.add(WorkKind.TAKE, fail, teacher=1, student=2, clean_up=lambda: cleaned.append(1))
    after = _add(queue, gate, "after")
    gate.open.set()
    _finish(failed, after)
    assert (failed.state, str(failed.error), cleaned) == (JobState.FAILED, sentence, [1])
    assert after.state is JobState.DONE


def test_only_its_owner_finds_a_job(gate):
    queue = WorkQueue()
    job = _add(queue, gate, "mine")
    assert queue.find(job.id, teacher=1, student=2) is job
    for teacher, student in ((2, 2), (1, 3), (1, None)):
        with pytest.raises(NotThereError):
            queue.find(job.id, teacher=teacher, student=student)
    with pytest.raises(NotThereError, match="send it again"):
        queue.find("unknown", teacher=1, student=2)


def test_one_teacher_or_student_can_not_fill_the_queue(gate):
    queue = WorkQueue(cores=1)
    for number in range(budget.PENDING_TAKES_STUDENT):
        _add(queue, gate, f"take {number}")
    with pytest.raises(FillwrightError, match="3 takes of this student wait already"):
        _add(queue, gate, "one more")
    with pytest.raises(FillwrightError, match="try again when one is done"):
        queue.check_pending(WorkKind.TAKE, teacher=1, student=2)
    packs = [
        _add(queue, gate, f"pack {number}", WorkKind.PACK) for number in range(budget.PENDING_PACKS_TEACHER)
    ]
    with pytest.raises(FillwrightError, match="6 packs of yours wait already"):
        _add(queue, gate, "one more", WorkKind.PACK)
    queue.check_pending(WorkKind.PACK, teacher=9)
    queue.cancel(packs[0])
    _add(queue, gate, "instead", WorkKind.PACK)
    queue.close()
