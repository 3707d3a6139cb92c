"""How the studio's pages look, for everybody, at every size and in the dark; and what their keys do."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from playwright.sync_api import expect

from fillwright.studio.pages.help_pages import STUDENT_SHORTCUTS, TEACHER_SHORTCUTS
from tests.e2e.studio.pages import PAGES, PHONE, SCREEN
from tests.e2e.studio_server import (
    FILL,
    LESSON,
    too_wide,
    violations,
)

SHIFTS = """() => new Promise((resolve) => {
  let sum = 0;
  new PerformanceObserver((list) => {
    for (const each of list.getEntries()) if (!each.hadRecentInput) sum += each.value;
  }).observe({ type: "layout-shift", buffered: true });
  setTimeout(() => resolve(sum), 300);
})"""
SMALL = """() => [...document.querySelectorAll("a, button, input, select, textarea, summary")]
  .filter((each) => {
    if (!each.checkVisibility({ visibilityProperty: true })) return false;
    if (each.matches(".skip, [type=hidden]")) return false;
    const box = (each.matches("[type=checkbox]") ? each.closest("label") : each).getBoundingClientRect();
    return box.height < 43.5 || box.width < 43.5;
  }).map((each) => each.outerHTML.slice(0, 100))"""


class TestLook:
    @pytest.mark.parametrize("size", [PHONE, SCREEN], ids=["phone", "screen"])
    @pytest.mark.parametrize("scheme", ["light", "dark"])
    @pytest.mark.parametrize("path", PAGES.values(), ids=PAGES.keys())
    def test_everybody_can_use_it_and_nothing_sticks_out(self, open_page, path, scheme, size):
        page = open_page(path, size, color_scheme=scheme)
        assert violations(page) == []
        assert too_wide(page) == 0
        levels = page.eval_on_selector_all(
            "h1, h2, h3, h4", "(all) => all.map((each) => Number(each.tagName[1]))"
        )
        assert levels[0] == levels.count(1) == 1
        assert all(after <= before + 1 for before, after in pairwise(levels))

    @pytest.mark.parametrize("path", PAGES.values(), ids=PAGES.keys())
    def test_a_finger_hits_everything_and_nothing_shifts(self, open_page, path):
        page = open_page(path, PHONE, has_touch=True)
        assert page.evaluate(SMALL) == []
        assert page.evaluate(SHIFTS) < 0.001

    @pytest.mark.parametrize("path", PAGES.values(), ids=PAGES.keys())
    def test_the_focus_is_seen(self, open_page, path):
        page = open_page(path)
        for _ in range(12):
            page.keyboard.press("Tab")
            outline = page.evaluate("getComputedStyle(document.activeElement).outlineWidth")
            assert outline == "3px" or page.evaluate("document.activeElement === document.body")

    @pytest.mark.parametrize("scheme", ["light", "dark"])
    def test_a_mistake_in_the_text(self, open_page, scheme):
        page = open_page("/lessons/1/text", PHONE, color_scheme=scheme)
        page.get_by_label("The lesson's text").fill(LESSON.replace("flam tap", "flam tip"))
        page.get_by_role("button", name="Save").click()
        expect(page.get_by_role("alert")).to_contain_text("flam tip")
        assert (violations(page), too_wide(page)) == ([], 0)

    @pytest.mark.parametrize("name", ["poor take", "workshop"])
    def test_drawings_take_the_inks_of_the_page(self, open_page, name):
        page = open_page(PAGES[name], color_scheme="dark")
        inks = page.eval_on_selector_all(
            "main svg *",
            "(all) => all.map((each) => getComputedStyle(each)).flatMap(({ fill, stroke }) => [fill, stroke])",
        )
        assert "rgb(28, 26, 23)" not in inks  # the ink of paper, which can't be seen in the dark

    def test_on_a_wide_screen_all_fills_are_next_to_the_fill(self, open_page):
        page = open_page(PAGES["lesson"])
        fill, fills = (page.locator(each).bounding_box() for each in ("article.fill", "nav.all"))
        assert fills["x"] > fill["x"] + fill["width"]
        assert abs(fills["y"] - fill["y"]) < 50
        page.set_viewport_size({"width": 360, "height": 740})
        fill, fills = (page.locator(each).bounding_box() for each in ("article.fill", "nav.all"))
        assert fills["y"] > fill["y"] + fill["height"] - 1


class TestSchool:
    def signed_in(self, open_page, school, who, path, **options):
        made, address = school
        page = open_page("/sign-in", base_url=address, **options)
        page.context.add_cookies([{"name": "fillwright", "value": made.cookies[who], "url": address}])
        page.goto(path)
        return page

    @pytest.mark.parametrize("size", [PHONE, SCREEN], ids=["phone", "screen"])
    @pytest.mark.parametrize("scheme", ["light", "dark"])
    @pytest.mark.parametrize("path", ["/sign-in", "/invitation/{secret}"])
    def test_before_a_visitor_is_signed_in(self, open_page, school, path, scheme, size):
        made, address = school
        path = path.format(secret=made.ada.secret)
        page = open_page(path, size, base_url=address, color_scheme=scheme)
        expect(page.get_by_label("Password")).to_be_visible()
        assert (violations(page), too_wide(page)) == ([], 0)

    def test_a_student_begins_with_their_practice(self, open_page, school):
        page = self.signed_in(open_page, school, "pim", "/")
        expect(page).to_have_url(re.compile(f"/students/{school[0].ada.student}"))
        expect(page.get_by_role("heading", name="Today")).to_be_visible()
        links = page.get_by_role("navigation", name="Main").get_by_role("link").all_inner_texts()
        assert links == ["My practice"]
        assert violations(page) == []

    def test_a_student_is_offered_nothing_that_is_refused(self, open_page, school):
        made, _ = school
        for path in (f"/students/{made.ada.student}", f"/takes/{made.ada.take}", "/help/shortcuts"):
            page = self.signed_in(open_page, school, "pim", path, size=PHONE)
            assert too_wide(page) == 0
            links = page.eval_on_selector_all("a[href^='/']", "(all) => all.map((each) => each.href)")
            for link in set(links):
                assert page.request.get(link).status == 200, link
            for label in ("Assign", "Unassign", "Mark as passed", "Delete pim and everything", "Save"):
                expect(page.get_by_role("button", name=label, exact=True)).to_have_count(0)


class TestKeys:
    @pytest.mark.parametrize("path", PAGES.values(), ids=PAGES.keys())
    def test_every_key_of_a_page_is_listed(self, open_page, path):
        page = open_page(path)
        words = {" ": "Space", "ArrowLeft": "←", "ArrowRight": "→"}
        keys = page.eval_on_selector_all("[data-key]", "(all) => all.map((each) => each.dataset.key)")
        keys += page.eval_on_selector_all("main button kbd", "(all) => all.map((each) => each.textContent)")
        listed = {key for _, rows in TEACHER_SHORTCUTS for keys, _ in rows for key in keys.split()} | set(
            "12345"
        )
        assert {words.get(key, key) for key in keys} <= listed

    def test_the_sections(self, open_page):
        page = open_page("/")
        for key, path in (
            ("2", "/workshop"),
            ("3", "/figures"),
            ("4", "/students"),
            ("5", "/settings"),
            ("1", "/"),
        ):
            page.keyboard.press(key)
            page.wait_for_url(f"**{path}")
        page.keyboard.press("?")
        page.wait_for_url("**/help/shortcuts")

    def test_through_a_lesson(self, open_page):
        page = open_page("/lessons/1")
        page.keyboard.press("ArrowRight")
        page.wait_for_url(f"**fill={FILL}")
        page.keyboard.press("ArrowLeft")
        page.wait_for_url("**fill=single-paradiddle-last-beat")
        for key, path in (("e", "/text"), ("b", "/pack"), (".", "/workshop?lesson=1*")):
            page.goto("/lessons/1")
            page.keyboard.press(key)
            page.wait_for_url(f"**{path}")

    def test_a_key_does_nothing_while_one_types(self, open_page):
        page = open_page("/workshop")
        page.get_by_label("Sticking").click()
        for key in ("a", "2", "g", "z", "?", " "):
            page.keyboard.press(key)
        assert page.get_by_label("Sticking").input_value().count("a2gz? ") == 1
        assert "/workshop" in page.url
        expect(page.get_by_role("button", name="Play")).to_be_visible()

    def test_space_presses_what_has_the_focus(self, open_page):
        page = open_page("/workshop")
        page.get_by_role("button", name="Next →").focus()
        page.keyboard.press(" ")
        expect(page.get_by_role("heading", name="Stroke 2 of 8")).to_be_visible()
        expect(page.get_by_role("button", name="Play")).to_be_visible()

    def test_keys_can_be_turned_off(self, open_page):
        page = open_page("/help/shortcuts")
        page.get_by_label("Use shortcuts of a single key").uncheck()
        page.keyboard.press("2")
        page.reload()
        expect(page.get_by_label("Use shortcuts of a single key")).not_to_be_checked()
        page.get_by_label("Use shortcuts of a single key").check()
        page.get_by_role("heading", name="Shortcuts").click()
        page.keyboard.press("2")
        page.wait_for_url("**/workshop")

    def test_students_have_fewer_shortcuts(self):
        assert {name for name, _ in STUDENT_SHORTCUTS} < {name for name, _ in TEACHER_SHORTCUTS}
