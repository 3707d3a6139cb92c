"""A studio that answers browsers, in a thread of its own, and something of everything in it."""

from __future__ import annotations

import io
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import mido
import pytest
import uvicorn
from playwright.sync_api import Browser, Page, sync_playwright

from fillwright.store.lessons import add_lesson, add_series
from fillwright.store.practice_log import log_practice
from fillwright.store.students import Profile, add_student, assign
from fillwright.store.takes import Exercise, mark_passed
from fillwright.store.transaction import begin_writing, ensure_teacher
from fillwright.studio.app import make_app
from fillwright.studio.web.setup import Setup
from tests.browser import CHROMIUM, OPTIONS
from tests.needs import need

LESSON = """number = 1
title = "Three figures, quietly"
goal = "Move the paradiddle off the snare without losing its accents."
tempo = "60, 70, 80"
audio = "ogg"
steps = ["last beat", "whole bar"]

[[figure]]
name = "single paradiddle"

[[figure]]
name = "single stroke four"
steps = ["last beat"]

[[figure]]
name = "flam tap"
steps = ["whole bar"]
"""
FILL = "single-paradiddle-whole-bar"


@contextmanager
def answering(setup: Setup) -> Iterator[str]:
    """A server for a studio; gives its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(make_app(setup), host="127.0.0.1", port=port, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.05)
    try:
        yield f"http://localhost:{port}"
    finally:
        server.should_exit = True
        thread.join(timeout=20)
        setup.builds.close()
        setup.store.close()


@contextmanager
def chromium() -> Iterator[Browser]:
    """Chromium, with a microphone that beeps."""
    need(CHROMIUM.exists(), "Chromium (Debian's package chromium)")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=OPTIONS)
        yield browser
        browser.close()


def furnish(setup: Setup, lesson: str = LESSON) -> None:
    """One series, one lesson; Mo, who has been assigned it and has practised, and Pim, who has nothing."""
    teacher = ensure_teacher(setup.store, setup.clock)
    start = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)
    with begin_writing(setup.store, teacher, lambda: start) as transaction:
        series = add_series(transaction, "Quiet fills")
        number = add_lesson(transaction, series, lesson)
        mo = add_student(transaction, Profile(name="Mo", notes="Likes the floor tom."))
        add_student(transaction, Profile(name="Pim"))
        assign(transaction, mo, number)
        log_practice(transaction, mo, 20)
    for day, tempo in enumerate((60, 70)):
        with begin_writing(setup.store, teacher, lambda day=day: start + timedelta(days=day)) as transaction:
            mark_passed(transaction, Exercise(student=mo, lesson=number, fill=FILL, tempo=tempo))


def watched(page: Page) -> list[str]:
    """What the console complains of from now on; pages that are refused on purpose apart."""
    wrong: list[str] = []

    def said(message) -> None:
        if message.type == "error" and "422" not in message.text and "404" not in message.text:
            wrong.append(message.text)

    page.on("console", said)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    return wrong


def too_wide(page: Page) -> int:
    """By how many pixels a page is wider than its window."""
    return max(0, page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


def violations(page: Page) -> list[tuple[str, list[str]]]:
    """What axe finds."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    found = axe.Axe().run(page).response["violations"]
    return [(each["id"], [node["html"][:120] for node in each["nodes"]]) for each in found]


def notes_of(file: mido.MidiFile) -> list[tuple[int, int, int]]:
    """Tick, key and velocity of every note, in order of time."""
    notes = []
    for track in file.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                notes.append((now, message.note, message.velocity))
    return sorted(notes)


def changed(content: bytes, *, without: int = 0, later_ms: float = 0.0) -> bytes:
    """A MIDI file with some strokes of the last bar before the landing missing, and others late."""
    source = mido.MidiFile(file=io.BytesIO(content))
    tempo = next(m.tempo for t in source.tracks for m in t if m.type == "set_tempo")
    notes = notes_of(source)
    quarter = source.ticks_per_beat
    fill = [note for note in notes if 12 * quarter <= note[0] < 16 * quarter and note[1] == 38]
    for note in fill[2 : 2 + without]:
        notes.remove(note)
    late = round(later_ms * 1000 / tempo * quarter)
    made = mido.MidiFile(ticks_per_beat=quarter)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=tempo)])
    last = 0
    for tick, key, velocity in sorted((t + (late if (t, k, v) in fill[::3] else 0), k, v) for t, k, v in notes):
        track.append(mido.Message("note_on", channel=9, note=key, velocity=velocity, time=tick - last))
        last = tick
    made.tracks.append(track)
    out = io.BytesIO()
    made.save(file=out)
    return out.getvalue()


def send_take(page: Page, student: int, name: str, content: bytes) -> None:
    """Upload a take of the paradiddle's whole bar at 60; the page shows what is answered."""
    page.goto(f"/students/{student}/takes/new?lesson=1&fill={FILL}&tempo=60")
    kind = "audio/midi" if name.endswith(".mid") else "audio/wav"
    recording = {"name": name, "mimeType": kind, "buffer": content}
    page.get_by_label("Recording, or MIDI file").set_input_files(files=[recording])
    page.get_by_role("button", name="Add take").click()
