"""A school at work: thirty at once against the real server on both stores, and fifty students' plans.

The visitors run on the same machine as the server, so the figures are those of a machine that does both.
"""

from __future__ import annotations

import re
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from random import Random

import httpx
from tests.postgres import BIN, server

from fillwright.lesson.file import read_demo_text
from fillwright.store.accounts import accept_invitation, invite
from fillwright.store.database import open_store
from fillwright.store.transaction import begin_reading, read_clock, begin_writing
from fillwright.store.lessons import add_lesson, add_series
from fillwright.store.students import Profile, add_student, list_students, assign
from fillwright.store.takes import Exercise, mark_passed
from fillwright.studio.work.lessons import plan_text
from fillwright.studio.work.record import read_record

USERS, STUDENTS = 30, 50
_SECONDS = 20.0
_PASSWORD = "thirty at the same time"
_PATIENCE_SECONDS = 120


def main() -> dict[str, float]:
    figures: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as folder, ExitStack() as running:
        stores = {"SQLite": ""}
        if BIN:
            stores["PostgreSQL"] = running.enter_context(server())
        else:
            print("PostgreSQL is not installed, so SQLite alone is measured")
        for name, store in stores.items():
            place = Path(folder) / name
            teacher = _fill(store or str(place / "studio.db"))
            figures |= {f"{name} {what}": figure for what, figure in _load(name, place, store).items()}
            figures[f"{name} plans"] = _plans(name, store or str(place / "studio.db"), teacher)
    return figures


def _fill(where: str) -> int:
    """A teacher, fifty students with the demo lesson, accounts for thirty; gives the teacher's number."""
    store = open_store(where)
    fills = plan_text(read_demo_text()).fills
    now = read_clock()
    with store.begin_writing() as connection:
        account = accept_invitation(
            connection, invite(connection, now=now), login="teacher", password=_PASSWORD, now=now
        )
    with begin_writing(store, account.teacher) as transaction:
        lesson = add_lesson(transaction, add_series(transaction, "A school year"), read_demo_text())
        for number in range(STUDENTS):
            student = add_student(transaction, Profile(name=f"Student {number}"))
            assign(transaction, student, lesson)
            for fill in fills[: number % 20]:
                mark_passed(
                    transaction, Exercise(student=student, lesson=lesson, fill=fill.name, tempo=fill.ladder[0])
                )
            if number < USERS - 1:
                link = invite(
                    connection=transaction.connection,
                    now=now,
                    teacher_number=transaction.teacher,
                    student_number=student,
                )
                accept_invitation(
                    transaction.connection, link, login=f"student {number}", password=_PASSWORD, now=now
                )
    store.close()
    return account.teacher


def _load(name: str, folder: Path, store: str) -> dict[str, float]:
    with _studio(folder, store) as address:
        clients = [httpx.Client(base_url=address, timeout=60) for _ in range(USERS)]
        signing = _measured(clients, lambda client, number: [_sign_in(client, number)])
        clients[0].get("/students/1").raise_for_status()  # the lesson is worked out once, as after a start
        ends = time.monotonic() + _SECONDS
        took = _measured(clients, lambda client, number: list(_evening(client, number, ends)))
        for client in clients:
            client.close()
    seconds = [each for each, _ in took]
    errors = sum(status >= 400 for _, status in took)
    p95 = statistics.quantiles(seconds, n=20)[-1]
    wait = max(each for each, _ in signing)
    middle = statistics.median(seconds)
    print(f"{name}, {USERS} at once: {len(took) / _SECONDS:.0f} requests a second, {errors} errors;")
    print(f"  half within {middle * 1e3:.0f} ms, 95 % within {p95 * 1e3:.0f} ms;")
    print(f"  all {USERS} signed in at the same moment within {wait:.1f} s")
    return {"rate": len(took) / _SECONDS, "p95": p95, "errors": errors, "signing": wait}


Took = list[tuple[float, int]]
"""Seconds and status of each request."""


def _measured(clients: list[httpx.Client], work: Callable[[httpx.Client, int], Took]) -> Took:
    """Everybody's work at the same time; an answer that never came counts as status 599."""
    found: Took = []

    def one(client: httpx.Client, number: int) -> None:
        try:
            found.extend(work(client, number))
        except httpx.TransportError:
            found.append((60.0, 599))

    threads = [threading.Thread(target=one, args=(client, number)) for number, client in enumerate(clients)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return found


def _sign_in(client: httpx.Client, number: int) -> tuple[float, int]:
    login = f"student {number - 1}" if number else "teacher"
    form = {"login": login, "password": _PASSWORD, "token": _token(client.get("/sign-in").text)}
    return _asked(lambda: client.post("/sign-in", data=form))


def _evening(client: httpx.Client, number: int, ends: float) -> Iterator[tuple[float, int]]:
    """What a teacher looks at, or a student looks at and writes down."""
    random = Random(number)
    token = _token(client.get("/help/shortcuts").text)
    home = client.get("/").headers["location"] if number else ""
    while time.monotonic() < ends:
        if not number:
            path = random.choice(
                ("/", "/students", "/settings", "/figures", f"/students/{random.randint(1, STUDENTS)}")
            )
            yield _asked(lambda: client.get(path))  # noqa: B023 - asked at once
        elif random.random() < 0.25:
            yield _asked(lambda: client.post(f"{home}/practice", data={"minutes": "5", "token": token}))
        else:
            path = random.choice((home, home, f"{home}/plan.ics", "/help/shortcuts", "/static/studio.css"))
            yield _asked(lambda: client.get(path))  # noqa: B023 - asked at once


def _asked(request: Callable[[], httpx.Response]) -> tuple[float, int]:
    begun = time.perf_counter()
    answer = request()
    return time.perf_counter() - begun, answer.status_code


def _token(page: str) -> str:
    found = re.search('data-token="([^"]+)"', page)
    if found is None:
        raise ValueError("a page without a token")
    return found[1]


def _plans(name: str, where: str, teacher: int) -> float:
    store = open_store(where)
    begun = time.perf_counter()
    with begin_reading(store, teacher) as transaction:
        plans = [
            read_record(transaction, student.id).plans(transaction.now.date())
            for student in list_students(transaction)
        ]
    seconds = time.perf_counter() - begun
    store.close()
    fills = len(plan_text(read_demo_text()).fills)
    print(f"{name}: a week's plans for {len(plans)} students, {fills} fills each, in {seconds:.2f} s")
    return seconds


@contextmanager
def _studio(folder: Path, store: str) -> Iterator[str]:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port = found.getsockname()[1]
    words = ["serve", "--school", "--folder", str(folder), "--port", str(port), "--quiet", "--no-browser"]
    process = subprocess.Popen(
        [sys.executable, "-m", "fillwright.cli", *words, *(("--store", store) if store else ())]
    )
    address = f"http://127.0.0.1:{port}"
    try:
        deadline = time.monotonic() + _PATIENCE_SECONDS
        while time.monotonic() < deadline:
            with suppress(httpx.TransportError):
                httpx.get(f"{address}/sign-in")
                break
            time.sleep(0.2)
        yield address
    finally:
        process.terminate()
        process.wait(timeout=30)


if __name__ == "__main__":
    main()
