"""A school at work: thirty visitors at the same time on both databases, and the plans of fifty students.

The visitors run on the same machine as the server, so the numbers are those of a machine that does both.
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

from fillwright.lesson.file import read_demo_text
from fillwright.store.accounts import accept_invitation, invite
from fillwright.store.database import open_store
from fillwright.store.lessons import add_lesson, add_series
from fillwright.store.students import Profile, add_student, assign, list_students
from fillwright.store.takes import Exercise, mark_passed
from fillwright.store.transaction import begin_reading, begin_writing, read_clock
from fillwright.studio.work.lessons import plan_text
from fillwright.studio.work.record import read_record
from tests.postgres import BIN, server

USERS, STUDENTS = 30, 50
"""Visitors at the same time, and students in the store. Ours."""

_SECONDS = 20.0
"""Length of the load, in seconds. Ours."""

_PASSWORD = "thirty at the same time"
_PATIENCE_SECONDS = 120
"""Seconds until the server must answer. Ours."""


def main() -> dict[str, float]:
    numbers: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as folder, ExitStack() as running:
        stores = {"SQLite": ""}
        if BIN:
            stores["PostgreSQL"] = running.enter_context(server())
        else:
            print("PostgreSQL is not installed, so SQLite alone is measured")
        for name, store in stores.items():
            path = Path(folder) / name
            teacher = _fill(store or str(path / "studio.db"))
            numbers |= {f"{name} {key}": value for key, value in _load(name, path, store).items()}
            numbers[f"{name} plans"] = _time_plans(name, store or str(path / "studio.db"), teacher)
    return numbers


def _fill(where: str) -> int:
    """Fill a store with a teacher and fifty students, thirty with accounts; return the teacher's number."""
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
    with run_studio(folder, store) as address:
        clients = [httpx.Client(base_url=address, timeout=60) for _ in range(USERS)]
        signing = _run_together(clients, lambda client, number: [_sign_in(client, number)])
        clients[0].get("/students/1").raise_for_status()  # the lesson is planned once, as after a start
        ends = time.monotonic() + _SECONDS
        took = _run_together(clients, lambda client, number: list(_evening(client, number, ends)))
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


def _run_together(clients: list[httpx.Client], work: Callable[[httpx.Client, int], Took]) -> Took:
    """Run the work of all visitors at the same time; a missing answer counts as status 599."""
    results: Took = []

    def run(client: httpx.Client, number: int) -> None:
        try:
            results.extend(work(client, number))
        except httpx.TransportError:
            results.append((60.0, 599))

    threads = [threading.Thread(target=run, args=(client, number)) for number, client in enumerate(clients)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results


def _sign_in(client: httpx.Client, number: int) -> tuple[float, int]:
    login = f"student {number - 1}" if number else "teacher"
    form = {"login": login, "password": _PASSWORD, "token": find_token(client.get("/sign-in").text)}
    return _time_request(lambda: client.post("/sign-in", data=form))


def _evening(client: httpx.Client, number: int, ends: float) -> Iterator[tuple[float, int]]:
    """Open the pages that a teacher opens, or a student, who logs practice too."""
    random = Random(number)
    token = find_token(client.get("/help/shortcuts").text)
    home = client.get("/").headers["location"] if number else ""
    while time.monotonic() < ends:
        if not number:
            path = random.choice(
                ("/", "/students", "/settings", "/figures", f"/students/{random.randint(1, STUDENTS)}")
            )
            yield _time_request(lambda: client.get(path))  # noqa: B023 - asked at once
        elif random.random() < 0.25:
            yield _time_request(lambda: client.post(f"{home}/practice", data={"minutes": "5", "token": token}))
        else:
            path = random.choice((home, home, f"{home}/plan.ics", "/help/shortcuts", "/static/studio.css"))
            yield _time_request(lambda: client.get(path))  # noqa: B023 - asked at once


def _time_request(request: Callable[[], httpx.Response]) -> tuple[float, int]:
    start = time.perf_counter()
    answer = request()
    return time.perf_counter() - start, answer.status_code


def find_token(page: str) -> str:
    match = re.search('data-token="([^"]+)"', page)
    if match is None:
        raise ValueError("a page without a token")
    return match[1]


def _time_plans(name: str, where: str, teacher: int) -> float:
    store = open_store(where)
    start = time.perf_counter()
    with begin_reading(store, teacher) as transaction:
        plans = [
            read_record(transaction, student.id).plan(transaction.now.date())
            for student in list_students(transaction)
        ]
    seconds = time.perf_counter() - start
    store.close()
    fills = len(plan_text(read_demo_text()).fills)
    print(f"{name}: a week's plans for {len(plans)} students, {fills} fills each, in {seconds:.2f} s")
    return seconds


@contextmanager
def run_studio(folder: Path, store: str, *, school: bool = True) -> Iterator[str]:
    """Run a studio in a process of its own; yield its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = ["serve", "--folder", str(folder), "--port", str(port), "--quiet", "--no-browser"]
    words += ["--school"] if school else []
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
