"""A new teacher's first evening with the studio, on a computer and on a phone."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from playwright.sync_api import expect

from fillwright.studio.serve import set_up
from tests.e2e.studio_server import (
    FILL,
    LESSON,
    answering,
    changed,
    chromium,
    send_take,
    too_wide,
    violations,
    watched,
)

SHOTS = Path("/tmp/fillwright-studio-screens")


@pytest.fixture
def studio(tmp_path):
    """A studio that answers, in a folder of its own."""
    with answering(set_up(tmp_path / "studio")) as address:
        yield address


@pytest.fixture(params=[(1280, 900), (360, 740)], ids=["computer", "phone"])
def teacher(request, studio):
    """A browser at a width."""
    width, height = request.param
    with chromium() as browser:
        page = browser.new_page(viewport={"width": width, "height": height}, base_url=studio)
        page.set_default_timeout(60_000)
        wrong = watched(page)
        yield page
        assert wrong == []


def shot(page, name):
    """A picture to look at, and a page that everybody can use and that is not wider than its window."""
    SHOTS.mkdir(exist_ok=True)
    width = page.viewport_size["width"]
    page.screenshot(path=str(SHOTS / f"{name}-{width}.png"), full_page=True)
    assert (violations(page), too_wide(page)) == ([], 0)


def test_a_lesson_a_pack_a_student_a_take_a_plan(teacher):
    page = teacher
    page.goto("/")
    page.get_by_label("Title").fill("Quiet fills")
    page.get_by_role("button", name="New series").click()
    shot(page, "series-new")

    page.get_by_role("link", name="New lesson").first.click()
    page.get_by_label("The lesson's text").fill(LESSON.replace("flam tap", "flam tip"))
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert")).to_contain_text('figure 3: There is no figure called "flam tip"')
    shot(page, "lesson-mistake")
    page.get_by_label("The lesson's text").fill(LESSON)
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Three figures, quietly")
    page.get_by_role("navigation", name="Fills by grade").get_by_role("link").nth(1).click()
    shot(page, "lesson")

    page.get_by_role("link", name="Build pack").click()
    shot(page, "pack-before")
    page.get_by_role("button", name="Build pack").click()
    shot(page, "pack-while")
    expect(page.get_by_text("This pack is up to date.")).to_be_visible(timeout=300_000)
    shot(page, "pack")
    with page.expect_download() as started:
        page.get_by_role("link", name="Download pack").click()
    with zipfile.ZipFile(started.value.path()) as pack:
        written = next(name for name in pack.namelist() if name.endswith(f"{FILL}.mid"))
        midi = pack.read(written)
        assert any(name.endswith("practice.html") for name in pack.namelist())

    page.get_by_role("link", name="Students").click()
    page.get_by_label("First name or nickname").fill("Pim")
    page.get_by_role("button", name="Add student").click()
    expect(page.get_by_text("Nothing is assigned.")).to_be_visible()
    page.get_by_role("button", name="Assign", exact=True).click()
    expect(page.get_by_role("link", name="Three figures, quietly")).to_be_visible()
    home = page.url.partition("?")[0]
    shot(page, "student")
    assert "at 60" in page.locator("ol.plan-rows").inner_text()

    take(page, home, "poor.mid", changed(midi, without=2, later_ms=60))
    expect(page.get_by_role("heading", name="Not passed yet")).to_be_visible()
    expect(page.get_by_text("2 strokes of the fill are missing.")).to_be_visible()
    shot(page, "take-poor")

    take(page, home, "good.mid", changed(midi))
    expect(page.get_by_role("heading", name="Passed at 60")).to_be_visible()
    shot(page, "take-good")

    page.goto(home)
    plan = page.locator("ol.plan-rows li").filter(has_text="Single paradiddle: Whole bar")
    expect(plan).to_contain_text("at 70")
    expect(plan).to_contain_text("Passed at 60 bpm. The next tempo is 70 bpm.")
    shot(page, "student-after")


def take(page, home, name, content):
    """Upload a take of the paradiddle's whole bar at 60."""
    send_take(page, int(home.rpartition("/")[2]), name, content)
    expect(page.get_by_role("heading", name="Numbers")).to_be_visible()
