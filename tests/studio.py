"""A school for the studio's tests: two teachers, their students, something of everything."""

from __future__ import annotations

import html
import shutil
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from fillwright.isolation.run import prepare_isolation
from fillwright.store.accounts import accept_invitation, invite
from fillwright.store.criteria import Criteria
from fillwright.store.database import Store, open_store
from fillwright.store.lessons import add_lesson, add_series
from fillwright.store.practice_log import log_practice
from fillwright.store.schema import metadata
from fillwright.store.settings import OwnItem, save_own
from fillwright.store.students import Profile, add_student, assign
from fillwright.store.takes import Exercise, add_take
from fillwright.store.transaction import begin_writing
from fillwright.studio.app import make_app
from fillwright.studio.sounds.open_sounds import get_modelled_kit
from fillwright.studio.web.setup import Setup
from fillwright.studio.web.visitor import COOKIE
from fillwright.studio.work import isolated
from fillwright.studio.work.builds import Builds
from fillwright.studio.work.lessons import plan_text
from fillwright.studio.work.queue import Job, WorkKind, WorkQueue
from tests.asgi import Browser
from tests.postgres import database
from tests.unit.store.reports import REFUSED

WORDS = "three old drum sticks"
NOW = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)
LESSON = """number = 1
title = "Two hands"
purpose = "One figure."
tempo = "60..80 step 10"
leave_out = ["single-stroke-four-whole-bar"]

[[figure]]
name = "single stroke four"
"""
FILL = plan_text(LESSON).fills[0].name
MIDI = b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk\0\0\0\4\0\xff\x2f\0"
PACK = {
    "pack.json": '{"files": {}}',
    "lesson.toml": LESSON,
    "practice.html": "<!doctype html><p>Play",
    "handout.pdf": "%PDF-1.7",
}

SETTINGS = {
    "most_missing": "0",
    "on_time_ms": "30",
    "on_time_share": "0.9",
    "most_spread_ms": "20",
    "most_rush_percent": "2.5",
    "minutes": "30",
    "kit": "five-piece",
    "level": "steady",
    "hand": "right",
    "page": "a4",
    "sounds": "",
}
"""The form of the settings, as it is without a change."""

VISITORS = ("anonymous", "pim", "quinn", "ada", "rosa", "bo")
"""A visitor without an account; Ada's students Pim, with data, and Quinn, without; Ada; Bo's Rosa; Bo."""


class NoBuilds(Builds):
    """Builds that are asked for and not made."""

    def start(self, planned: Any, folder: Path, *, teacher: int, sounds: Path | None = None) -> None:
        del planned, folder, teacher, sounds


@dataclass(frozen=True, slots=True, kw_only=True)
class Things:
    """Numbers of what one teacher has."""

    teacher: int
    series: int
    lesson: int
    student: int
    assignment: int
    take: int
    secret: str
    fill: str = FILL
    removed: str = "single-stroke-four-whole-bar"
    action: str = "up"
    name: str = "Ada's four"
    digest: str = get_modelled_kit().digest
    layer: int = 1
    session: int = 3
    job: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class School:
    """A school that stands: its studio, and the cookies of everyone."""

    setup: Setup
    ada: Things
    bo: Things
    cookies: Mapping[str, str]
    tokens: Mapping[str, str]

    @contextmanager
    def browser(self, who: str = "") -> Iterator[Browser]:
        """A browser, in which somebody is signed in if asked for, and every form carries the right token."""
        with closing(Browser(make_app(self.setup))) as browser:
            if who:
                browser.cookies[COOKIE] = self.cookies[who]
                browser.headers["x-token"] = self.tokens[who]
            yield browser

    def rows(self) -> dict[str, list[Any]]:
        """Every row of every table."""
        with self.setup.store.begin_reading() as connection:
            return {
                table.name: [
                    tuple(row) for row in connection.execute(select(table).order_by(*table.primary_key))
                ]
                for table in metadata.sorted_tables
            }


def fill_school(store: Store) -> tuple[Things, Things]:
    """Put everything into a store; gives what Ada has, and what Bo has."""
    found = []
    for teacher, own, other in (("ada", "pim", "quinn"), ("bo", "rosa", "")):
        with store.begin_writing() as connection:
            account = accept_invitation(
                connection, invite(connection, now=NOW), login=teacher, password=WORDS, now=NOW
            )
        with begin_writing(store, account.teacher, lambda: NOW) as transaction:
            series = add_series(transaction, f"The series of {teacher}")
            lesson = add_lesson(transaction, series, LESSON)
            student = add_student(transaction, Profile(name=own))
            assignment = assign(transaction, student, lesson)
            exercise = Exercise(student=student, lesson=lesson, fill=FILL, tempo=60)
            log_practice(transaction, student, 10, lesson=lesson, fill=FILL)
            take = add_take(
                transaction, exercise, REFUSED, ("audio/midi", MIDI), criteria=Criteria(), picture="<svg/>"
            )
            if teacher == "ada":
                save_own(transaction, OwnItem(kind="figure", name="Ada's four", text="R L R L / 16"))
            for name in filter(None, (own, other)):
                number = student if name == own else add_student(transaction, Profile(name=name))
                link = invite(
                    transaction.connection, now=NOW, teacher_number=transaction.teacher, student_number=number
                )
                accept_invitation(transaction.connection, link, login=name, password=WORDS, now=NOW)
            waiting = add_student(transaction, Profile(name="waiting"))
            secret = invite(
                transaction.connection, now=NOW, teacher_number=transaction.teacher, student_number=waiting
            )
        found.append(
            Things(
                teacher=account.teacher,
                series=series,
                lesson=lesson,
                student=student,
                assignment=assignment,
                take=take,
                secret=secret,
            )
        )
    return found[0], found[1]


def _signed_in(setup: Setup) -> tuple[dict[str, str], dict[str, str]]:
    """Cookie and token of every visitor."""
    cookies, tokens = {}, {}
    for who in VISITORS:
        with closing(Browser(make_app(setup))) as browser:
            token = token_of(browser.get("/sign-in").text)
            if who != "anonymous":
                answer = browser.post("/sign-in", {"token": token, "login": who, "password": WORDS})
                assert answer.status == 303, answer.text
                token = token_of(browser.get("/help/shortcuts").text)
            cookies[who], tokens[who] = browser.cookies[COOKIE], token
    return cookies, tokens


def new_lesson_text(browser: Browser, school: School) -> str:
    """Return the text that a new lesson of a series starts with."""
    page = browser.get(f"/series/{school.ada.series}/new").text
    return html.unescape(page.split("<textarea", 1)[1].split(">", 1)[1].split("</textarea>", 1)[0].lstrip("\n"))


def token_of(page: str) -> str:
    """The token that a page's forms carry."""
    return page.split('data-token="', 1)[1].split('"', 1)[0]


def _pack(folder: Path, things: Things) -> None:
    pack = folder / f"{things.teacher}" / f"lesson-{things.lesson}" / "1"
    pack.mkdir(parents=True)
    (pack / "fills").mkdir()
    for name, text in PACK.items():
        (pack / name).write_text(text, "utf-8")


def _keep_job(setup: Setup, things: Things) -> str:
    """Put a take that is never measured into the queue; return its name."""

    def wait(job: Job) -> str:
        job.stop.wait(600)
        return f"/takes/{things.take}"

    return setup.queue.add(WorkKind.TAKE, wait, teacher=things.teacher, student=things.student).id


class Schools:
    """Makes schools that are all alike, each with a store of its own, quickly: as copies of the first."""

    def __init__(self, folder: Path, server: str = "") -> None:
        """In a folder, on a PostgreSQL server or, without its URL, in files of SQLite."""
        prepare_isolation([isolated.__name__])
        self._folder, self._server = folder, server
        self._stack = ExitStack()
        self._made = 0
        with self._store("") as store:
            self._ada, self._bo = fill_school(store)
            self._cookies, self._tokens = _signed_in(self._setup(store))

    def close(self) -> None:
        """Let go of the first."""
        self._stack.close()

    @contextmanager
    def one(self, **changes: Any) -> Iterator[School]:
        """A school as nobody has touched it.

        Args:
            changes: to its setup.
        """
        with self._store(self._place(0)) as store:
            setup = replace(self._setup(store), **changes)
            for things in (self._ada, self._bo):
                _pack(setup.packs, things)
            ada = replace(self._ada, job=_keep_job(setup, self._ada))
            yield School(setup=setup, ada=ada, bo=self._bo, cookies=self._cookies, tokens=self._tokens)
            setup.queue.close()

    def _place(self, number: int) -> str:
        """Name of a database, or of a file."""
        return f"school_{abs(hash(self._folder))}_{number}"

    @contextmanager
    def _store(self, like: str) -> Iterator[Store]:
        name = self._place(self._made)
        self._made += 1
        with ExitStack() as stack:
            keep = stack if like else self._stack
            where: str | Path = self._folder / name
            if self._server:
                where = keep.enter_context(database(self._server, name, like=like or "template0"))
            elif like:
                shutil.copy(self._folder / like, where)
            store = open_store(where)
            stack.callback(store.close)
            yield store

    def _setup(self, store: Store) -> Setup:
        return Setup(
            store=store,
            packs=self._folder / f"packs-{self._made}",
            sounds=self._folder / f"sounds-{self._made}",
            secret="s" * 48,
            school=True,
            clock=lambda: NOW,
            builds=NoBuilds(WorkQueue(patience=120)),
        )


def silence(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the kit be silent, for tests that ask for many pages: making its sounds takes long."""
    monkeypatch.setattr("fillwright.studio.pages.sound.load_layer", lambda *_: b"")
