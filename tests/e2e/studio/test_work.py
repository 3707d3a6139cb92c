"""A fill made in the workshop, and everything else done with forms, without scripts."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from fillwright.store.lessons import get_newest_version
from fillwright.store.transaction import begin_writing, ensure_teacher
from fillwright.studio.work.lessons import plan_lesson
from tests.e2e.studio.pages import PHONE
from tests.e2e.studio_server import (
    FILL,
    LESSON,
    changed,
)


class TestWorkshop:
    def tried(self, page, press):
        with page.expect_response("**/workshop/try") as answer:
            press()
        return answer.value

    def test_a_stroke_is_changed_by_keys_and_the_fields_follow(self, open_page):
        page = open_page("/workshop")
        sticking, on = page.get_by_label("Sticking"), page.get_by_label("Drums", exact=True)
        assert sticking.input_value() == "R> L R R L> R L L"
        for key, texts in (
            ("ArrowUp", ("R> L R R L> R L L", "mid tom, snare, snare, snare, snare, snare, snare, snare")),
            ("ArrowDown", ("R> L R R L> R L L", "snare, snare, snare, snare, snare, snare, snare, snare")),
            ("h", ("L> L R R L> R L L", "")),
            ("g", ("(L) L R R L> R L L", "")),
            ("t", ("L L R R L> R L L", "")),
            ("a", ("L> L R R L> R L L", "")),
            ("f", ("rL> L R R L> R L L", "")),
            ("f", ("rrL> L R R L> R L L", "")),
            ("f", ("Lz> L R R L> R L L", "")),
            ("f", ("L> L R R L> R L L", "")),
            ("z", ("Lz> L R R L> R L L", "")),
            ("z", ("rrL> L R R L> R L L", "")),
            ("y", ("Lz> L R R L> R L L", "")),
        ):
            assert self.tried(page, lambda key=key: page.keyboard.press(key)).status == 200
            assert sticking.input_value() == texts[0], key
            assert not texts[1] or on.input_value() == texts[1]
        page.keyboard.press("ArrowRight")
        expect(page.get_by_role("heading", name="Stroke 2 of 8")).to_be_visible()
        page.keyboard.press("ArrowLeft")
        expect(page.get_by_role("heading", name="Stroke 1 of 8")).to_be_visible()
        page.reload()
        assert sticking.input_value() == "Lz> L R R L> R L L"

    def test_chains_and_routes_by_keys(self, open_page):
        page = open_page("/workshop")
        words = page.locator("p.lead").first
        for key, text in (("]", "Chain 2:"), ("[", "Chain 1:"), (".", "Route 2 of"), (",", "Route 1 of")):
            with page.expect_navigation():  # keys work once a page is loaded
                page.keyboard.press(key)
            expect(words).to_contain_text(text)

    def test_a_stroke_out_of_reach_is_reported_at_once(self, open_page):
        page = open_page("/workshop?sticking=R+R+R+R&rhythm=16&beats=1&tempo=80&on=snare")
        tight = page.locator("#tight")
        expect(tight).to_be_hidden()
        page.keyboard.press("ArrowRight")
        self.tried(page, lambda: page.get_by_role("button", name="floor tom", exact=True).click())
        expect(tight).to_contain_text("Stroke 2: right hand travels from snare to floor tom")
        expect(page.get_by_role("button", name="floor tom", exact=True)).to_be_focused()
        self.tried(page, lambda: page.keyboard.press("z"))
        expect(tight).to_be_hidden()

    def test_a_wrong_text_stays_to_be_corrected(self, open_page):
        page = open_page("/workshop")
        sticking = page.get_by_label("Sticking")
        sticking.fill("R L Q R")
        assert self.tried(page, lambda: page.get_by_role("button", name="Try fill").click()).status == 422
        expect(page.locator("#tight")).to_contain_text("Q")
        assert sticking.input_value() == "R L Q R"
        sticking.fill("R L R L R L R L")
        self.tried(page, lambda: page.get_by_role("button", name="Try fill").click())
        expect(page.locator("#tight")).to_be_hidden()
        self.tried(page, lambda: page.get_by_role("button", name="Undo").click())
        assert sticking.input_value() == "R> L R R L> R L L"

    def test_another_width_has_its_own_drawing(self, open_page):
        page = open_page("/workshop")
        self.tried(page, lambda: page.keyboard.press("ArrowUp"))
        page.set_viewport_size({"width": 360, "height": 740})
        page.wait_for_function("document.querySelector('#stand .narrow svg')?.checkVisibility()")
        expect(page.locator(".caret")).to_be_visible()

    def test_a_lessons_fill_on_another_route_replaces_it(self, open_page, setup):
        teacher = ensure_teacher(setup.store)
        with begin_writing(setup.store, teacher) as transaction:
            before = [one.name for one in plan_lesson(transaction, 1).fills]
        page = open_page("/lessons/1?fill=single-paradiddle-last-beat")
        page.get_by_role("link", name="Try another route").click()
        page.get_by_role("button", name="Next route").click()
        expect(page.locator("p.lead").first).to_contain_text("Route 2 of")
        page.get_by_label("Name").fill("The other way")
        page.get_by_role("button", name="Replace fill").click()
        page.wait_for_url("**done=saved")
        expect(page.get_by_role("heading", level=2).first).to_contain_text("The other way")
        with begin_writing(setup.store, teacher) as transaction:
            after = [one.name for one in plan_lesson(transaction, 1).fills]
            text = get_newest_version(transaction, 1).text
        place = before.index("single-paradiddle-last-beat")
        assert after[:place] + after[place + 1 :] == before[:place] + before[place + 1 :]
        assert "way" in after[place]
        assert text.startswith(LESSON.partition("steps")[0])


class TestWithoutScript:
    def test_everything_goes_by_forms(self, open_page, midi):
        page = open_page("/", PHONE, java_script_enabled=False)
        page.get_by_label("Title").fill("Another series")
        page.get_by_role("button", name="New series").click()
        page.get_by_role("link", name="New lesson").click()
        page.get_by_label("The lesson's text").fill(LESSON)
        page.get_by_role("button", name="Save").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Three figures, quietly")
        expect(page.get_by_role("button", name="Play")).to_be_hidden()
        lesson = re.search(r"/lessons/(\d+)", page.url)[1]
        page.get_by_role("link", name="Edit form").click()
        page.get_by_label("Title", exact=True).fill("Three figures, by form")
        page.get_by_role("button", name="Save").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Three figures, by form")
        page.get_by_role("button", name="Move down").click()
        page.get_by_role("button", name="Remove", exact=True).click()
        expect(page.get_by_role("status")).to_contain_text("Removed.")

        page.goto("/students")
        page.get_by_label("First name or nickname").fill("Kit")
        page.get_by_role("button", name="Add student").click()
        home = page.url.partition("?")[0]
        page.locator("select[name=what]").select_option(f"{lesson}:")
        page.get_by_role("button", name="Assign", exact=True).click()
        page.get_by_label("Minutes practised today").fill("15")
        page.get_by_role("button", name="Log practice").click()
        expect(page.locator("p.lead").first).to_contain_text("15 minutes logged")
        page.goto(f"{home}/takes/new?lesson={lesson}&fill={FILL}&tempo=60")
        expect(page.get_by_role("button", name="Record with the microphone")).to_be_hidden()
        recording = {"name": "a.mid", "mimeType": "audio/midi", "buffer": changed(midi)}
        page.get_by_label("Recording, or MIDI file").set_input_files(files=[recording])
        page.get_by_role("button", name="Add take").click()
        expect(page.get_by_role("heading", name="Passed at 60")).to_be_visible()

    def test_the_workshop_by_its_fields(self, open_page):
        page = open_page("/workshop", java_script_enabled=False)
        page.get_by_label("Drums", exact=True).fill("floor tom")
        page.get_by_role("button", name="Try fill").click()
        expect(page.locator("p.lead").first).to_contain_text("The strokes as they are written.")
        assert page.get_by_label("Drums", exact=True).input_value() == "floor tom"
        page.get_by_label("Name").fill("All on the floor")
        page.get_by_role("button", name="Save fill").click()
        expect(page.get_by_role("heading", level=2).first).to_contain_text("All on the floor")
