"""A new teacher's first evening with the studio, at a desk and on a phone."""

from __future__ import annotations

import io
import socket
import threading
import time
import zipfile
from pathlib import Path

import mido
import pytest
import uvicorn
from playwright.sync_api import expect, sync_playwright

from fillwright.studio.app import make_app
from fillwright.studio.serve import set_up
from tests.browser import CHROMIUM, OPTIONS
from tests.needs import need

LESSON = """number = 1
title = "Three figures, quietly"
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
SHOTS = Path("/tmp/fillwright-studio-screens")


@pytest.fixture
def studio(tmp_path):
    """A studio that answers, in a folder of its own."""
    setup = set_up(tmp_path / "studio")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(make_app(setup), host="127.0.0.1", port=port, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.05)
    yield f"http://localhost:{port}"
    server.should_exit = True
    thread.join(timeout=20)
    setup.builds.close()
    setup.store.close()


@pytest.fixture(params=[(1280, 900), (360, 740)], ids=["desk", "phone"])
def teacher(request, studio):
    """A browser at a width."""
    need(CHROMIUM.exists(), "Chromium (Debian's package chromium)")
    width, height = request.param
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=OPTIONS)
        page = browser.new_page(viewport={"width": width, "height": height}, base_url=studio)
        page.set_default_timeout(60_000)
        wrong = []
        page.on("console", lambda message: wrong.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: wrong.append(str(error)))
        yield page
        assert [text for text in wrong if "422" not in text] == []
        browser.close()


def shot(page, name):
    """A picture to look at, and a page that is not wider than its window."""
    SHOTS.mkdir(exist_ok=True)
    width = page.viewport_size["width"]
    page.screenshot(path=str(SHOTS / f"{name}-{width}.png"), full_page=True)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def changed(content: bytes, *, without: int = 0, later_ms: float = 0.0) -> bytes:
    """A MIDI file with some strokes of the last bar before the landing missing, and others late."""
    source = mido.MidiFile(file=io.BytesIO(content))
    tempo = next(m.tempo for t in source.tracks for m in t if m.type == "set_tempo")
    notes = []
    for track in source.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity:
                notes.append([tick, message.note, message.velocity])
    notes.sort()
    quarter = source.ticks_per_beat
    fill = [note for note in notes if 12 * quarter <= note[0] < 16 * quarter and note[1] == 38]
    for note in fill[2 : 2 + without]:
        notes.remove(note)
    late = round(later_ms * 1000 / tempo * quarter)
    made = mido.MidiFile(ticks_per_beat=quarter)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=tempo)])
    last = 0
    for tick, key, velocity in sorted((t + (late if [t, k, v] in fill[::3] else 0), k, v) for t, k, v in notes):
        track.append(mido.Message("note_on", channel=9, note=key, velocity=velocity, time=tick - last))
        last = tick
    made.tracks.append(track)
    out = io.BytesIO()
    made.save(file=out)
    return out.getvalue()


def test_a_lesson_a_pack_a_student_a_take_a_plan(teacher):
    page = teacher
    page.goto("/")
    page.get_by_label("Title").fill("Quiet fills")
    page.get_by_role("button", name="Begin the series").click()
    shot(page, "series-new")

    page.get_by_role("link", name="Write a lesson").first.click()
    page.get_by_label("The lesson's text").fill(LESSON.replace("flam tap", "flam tip"))
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert")).to_contain_text('line 15, name of figure 3: There is no figure called "flam tip"')
    shot(page, "lesson-mistake")
    page.get_by_label("The lesson's text").fill(LESSON)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Three figures, quietly")
    page.get_by_role("navigation", name="Fills from easy to hard").get_by_role("link").nth(1).click()
    shot(page, "lesson")

    page.get_by_role("link", name="Build the pack").click()
    page.get_by_role("button", name="Build the pack").click()
    expect(page.get_by_text("Built from the lesson as it is.")).to_be_visible(timeout=300_000)
    shot(page, "pack")
    with page.expect_download() as started:
        page.get_by_role("link", name="Download everything").click()
    with zipfile.ZipFile(started.value.path()) as pack:
        written = next(name for name in pack.namelist() if name.endswith(f"{FILL}.mid"))
        midi = pack.read(written)
        assert any(name.endswith("practice.html") for name in pack.namelist())

    page.get_by_role("link", name="Students").click()
    page.get_by_label("First name or nickname").fill("Pim")
    page.get_by_role("button", name="Add the student").click()
    expect(page.get_by_text("Nothing is assigned.")).to_be_visible()
    page.get_by_role("button", name="Assign").click()
    expect(page.get_by_role("link", name="Three figures, quietly")).to_be_visible()
    home = page.url.partition("?")[0]
    shot(page, "student")
    assert "at 60" in page.locator("ol.plan-rows").inner_text()

    take(page, home, "poor.mid", changed(midi, without=2, later_ms=60))
    expect(page.get_by_role("heading", name="Not passed yet")).to_be_visible()
    expect(page.get_by_text("2 strokes are missing.")).to_be_visible()
    shot(page, "take-poor")

    take(page, home, "good.mid", changed(midi))
    expect(page.get_by_role("heading", name="Passed at 60")).to_be_visible()
    shot(page, "take-good")

    page.goto(home)
    plan = page.locator("ol.plan-rows li").filter(has_text="Single paradiddle: Whole bar")
    expect(plan).to_contain_text("at 70")
    expect(plan).to_contain_text("Passed at 60; the next rung is 70.")
    shot(page, "student-after")


def take(page, home, name, content):
    """Upload a take of the paradiddle's whole bar at 60."""
    page.goto(f"{home}/takes/new?lesson=1&fill={FILL}&tempo=60")
    recording = {"name": name, "mimeType": "audio/midi", "buffer": content}
    page.get_by_label("A recording from your phone").set_input_files(files=[recording])
    page.get_by_role("button", name="Listen to it").click()
    expect(page.get_by_role("heading", name="Numbers")).to_be_visible()
