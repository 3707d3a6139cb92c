"""Grooves and kits of a teacher's own: kept by form, chosen for lesson, workshop and student, nobody else's."""

from __future__ import annotations

import json
from html import unescape
from urllib.parse import urlencode

import pytest

from fillwright.craft.player.kits import load_kits
from fillwright.lesson.file import parse_lesson
from fillwright.music.grooves import load_grooves
from fillwright.store.lessons import get_newest_version, save_text
from fillwright.store.settings import read_own_tables
from fillwright.store.students import get_student
from fillwright.store.transaction import begin_reading, begin_writing
from fillwright.studio.pages.form import _read_values
from tests.studio import FILL, LESSON, SETTINGS, new_lesson_text

pytestmark = pytest.mark.usefixtures("silent")
GROOVE = {
    "name": "Kitchen & shuffle",
    "meter": "4/4",
    "line-0-surface": "hi-hat",
    "line-0-hand": "right",
    "line-0-on": "1  let 2 let 3 let 4 let",
    "line-1-surface": "snare",
    "line-1-hand": "left",
    "line-1-on": "2> 4> (1trip)",
    "line-2-surface": "kick",
    "line-2-hand": "left",
    "line-2-on": "1 3",
}
KIT = {"name": "Nook", "from": "practice pad", "surfaces": "snare"}
TRIED = {"sticking": "R L R L", "rhythm": "16", "beats": "1", "on": "snare"}


def own(school, things):
    with begin_reading(school.setup.store, things.teacher) as transaction:
        return read_own_tables(transaction)


def kept_kit(ada, name="Nook", without=("china", "splash", "crash"), base="five-piece"):
    """A kit that is kept by its form, ticks and all."""
    there = [surface for surface in load_kits()[base].spots if surface not in without]
    fields = urlencode([("name", name), ("from", base), *(("surfaces", each) for each in there)])
    headers = {"content-type": "application/x-www-form-urlencoded"}
    return ada.send_request("POST", "/kits", headers=headers, body=[fields.encode("ascii")])


def text_of(school):
    with begin_reading(school.setup.store, school.ada.teacher) as transaction:
        return get_newest_version(transaction, school.ada.lesson).text


def form_of(text, **changed):
    """The lesson's form as a browser sends it; every step is ticked by the last name that is left."""
    values = _read_values(parse_lesson(text))
    fields = {name: str(value) for name, value in values.items() if name not in ("steps", "click")}
    return {**fields, "figure-0-name": "single stroke four", "steps": "last beat", "click": "on", **changed}


class TestGrooves:
    def test_all_of_ours_are_drawn_and_led_to_from_the_figures(self, ada):
        page = ada.get("/grooves").text
        assert page.count('<div class="music sheet"><svg') == len(load_grooves())
        assert all(f"<h3>{groove.name}</h3>" in page for groove in load_grooves())
        assert 'href="/grooves"' in ada.get("/figures").text

    def test_one_is_kept_as_it_was_typed_and_shown_first(self, ada, school):
        assert ada.post("/grooves", GROOVE).headers["location"] == "/grooves?done=saved"
        (groove,) = own(school, school.ada).grooves
        assert (groove.name, groove.meter.name, len(groove.hits)) == ("Kitchen & shuffle", "4/4", 13)
        page = unescape(ada.get("/grooves").text)
        assert page.index("Kitchen & shuffle") < page.index("straight eighths")
        assert page.count('<div class="music sheet"><svg') == len(load_grooves()) + 1

    @pytest.mark.parametrize(
        ("wrong", "sentence"),
        [
            ({"name": " "}, "Name: This field is empty; write 1 to 80 characters."),
            ({"name": "Waltz"}, '"Waltz" is a groove already; choose another name.'),
            ({"meter": "4/3"}, 'There is no meter called "4/3"'),
            ({"line-0-on": "1 5"}, '"5" in "1 5" is not in the bar; a bar of 4/4 has counts 1 to 4.'),
            ({"line-0-surface": "snar"}, 'There is no surface called "snar"; did you mean "snare"?'),
            ({"line-0-hand": "both"}, 'The line for the hi-hat has "both" for a hand'),
            ({"line-1-hand": "right"}, "The right hand strikes hi-hat and snare at once on 2"),
            ({"line-0-on": "", "line-1-on": " ", "line-2-on": ""}, "This groove is empty; write a line"),
        ],
    )
    def test_a_mistake_is_told_and_what_was_typed_stays(self, ada, school, wrong, sentence):
        before = school.rows()
        answer = ada.post("/grooves", {**GROOVE, **wrong})
        page = unescape(answer.text)
        assert answer.status == 422
        assert sentence in page
        typed = {**GROOVE, **wrong}
        assert all(f'value="{typed[f"line-{line}-on"]}"' in page for line in range(3))
        assert f'value="{typed["name"]}"' in page
        assert school.rows() == before

    def test_it_is_forgotten_by_its_own_teacher_only(self, ada, school):
        ada.post("/grooves", GROOVE)
        with school.browser("bo") as bo:
            bo.post("/grooves/delete", {"name": GROOVE["name"]})
            assert "Kitchen" not in bo.get("/grooves").text
        assert len(own(school, school.ada).grooves) == 1
        assert (
            ada.post("/grooves/delete", {"name": GROOVE["name"]}).headers["location"] == "/grooves?done=deleted"
        )
        assert own(school, school.ada).grooves == ()


class TestKits:
    def test_all_of_ours_are_drawn_and_led_to_from_the_figures(self, ada):
        page = ada.get("/kits").text
        assert page.count('<div class="kit"><svg') == len(load_kits())
        assert 'href="/kits"' in ada.get("/figures").text

    def test_one_is_kept_with_what_is_ticked(self, ada, school):
        assert kept_kit(ada).headers["location"] == "/kits?done=saved"
        (kit,) = own(school, school.ada).kits
        assert set(load_kits()["five-piece"].spots) - set(kit.spots) == {"china", "splash", "crash"}
        page = ada.get("/kits").text
        assert page.index("<h3>Nook") < page.index("<h3>five-piece")

    @pytest.mark.parametrize(
        ("name", "without", "base", "sentence"),
        [
            ("four-piece", (), "five-piece", '"four-piece" is a kit already; choose another name.'),
            (
                "Nook",
                ("snare", "rim"),
                "five-piece",
                "The Nook kit has no snare; every kit needs a snare and a kick.",
            ),
            ("Nook", ("hi-hat",), "four-piece", "The Nook kit has the open hi-hat but not the hi-hat"),
        ],
    )
    def test_a_mistake_is_told_and_what_was_ticked_stays(self, ada, school, name, without, base, sentence):
        answer = kept_kit(ada, name, without, base)
        assert answer.status == 422
        assert sentence in unescape(answer.text)
        assert f"<option selected>{base}</option>" in answer.text
        for surface in load_kits()[base].spots:
            ticked = f'value="{surface}" checked' in answer.text
            assert ticked is (surface not in without)
        assert own(school, school.ada).kits == ()

    def test_a_kit_nobody_knows_is_told(self, ada):
        answer = ada.post("/kits", {**KIT, "from": "no such kit"})
        assert (answer.status, "There is no kit called" in answer.text) == (422, True)

    def test_it_is_forgotten_by_its_own_teacher_only(self, ada, school):
        kept_kit(ada)
        with school.browser("bo") as bo:
            bo.post("/kits/delete", {"name": "Nook"})
            assert "Nook" not in bo.get("/kits").text
            assert "Nook" not in bo.get("/workshop").text
        ada.post("/kits/delete", {"name": "Nook"})
        assert own(school, school.ada).kits == ()


class TestChange:
    def test_a_groove_is_changed_line_by_line(self, ada, school):
        ada.post("/grooves", GROOVE)
        page = unescape(ada.get("/grooves?" + urlencode({"change": GROOVE["name"]})).text)
        assert 'value="1 let 2 let 3 let 4 let"' in page
        assert f'name="instead" value="{GROOVE["name"]}"' in page
        assert ada.post("/grooves", {**GROOVE, "line-2-on": "1"}).status == 422
        changed = {**GROOVE, "name": "Pantry", "line-2-on": "1", "instead": GROOVE["name"]}
        assert ada.post("/grooves", changed).status == 303
        assert [(one.name, len(one.hits)) for one in own(school, school.ada).grooves] == [("Pantry", 12)]

    def test_a_kit_is_changed_and_the_settings_follow(self, ada, school):
        kept_kit(ada)
        ada.post("/settings", {**SETTINGS, "kit": "Nook"})
        page = ada.get("/kits?change=Nook").text
        assert 'value="china" checked' not in page
        assert 'value="snare" checked' in page
        there = [surface for surface in load_kits()["five-piece"].spots if surface != "china"]
        body = urlencode(
            [("name", "Den"), ("from", "five-piece"), ("instead", "Nook"), *(("surfaces", s) for s in there)]
        )
        headers = {"content-type": "application/x-www-form-urlencoded"}
        assert ada.send_request("POST", "/kits", headers=headers, body=[body.encode("ascii")]).status == 303
        assert [one.name for one in own(school, school.ada).kits] == ["Den"]
        assert "<option selected>Den</option>" in ada.get("/settings").text

    @pytest.mark.parametrize("path", ["/grooves", "/kits", "/figures"])
    def test_what_is_not_there_can_not_be_changed(self, ada, path):
        assert ada.get(f"{path}?change=nothing").status == 404


class TestSettings:
    def test_a_new_lesson_and_the_workshop_begin_with_a_kit_of_ones_own(self, ada, school):
        kept_kit(ada)
        assert "<option>Nook</option>" in ada.get("/settings").text
        assert ada.post("/settings", {**SETTINGS, "kit": "Nook"}).status == 303
        begun = new_lesson_text(ada, school)
        assert parse_lesson(begun).kit.name == "Nook"
        assert "[kits." in begun
        assert "<option selected>Nook</option>" in ada.get("/workshop").text

    def test_a_kit_that_is_forgotten_is_no_setting_any_more(self, ada, school):
        kept_kit(ada)
        ada.post("/settings", {**SETTINGS, "kit": "Nook"})
        ada.post("/kits/delete", {"name": "Nook"})
        assert "<option selected>five-piece</option>" in ada.get("/settings").text
        assert parse_lesson(new_lesson_text(ada, school)).kit.name == "five-piece"

    def test_a_kit_of_anothers_is_none(self, ada, school):
        kept_kit(ada)
        with school.browser("bo") as bo:
            answer = bo.post("/settings", {**SETTINGS, "kit": "Nook"})
        assert answer.status == 422
        assert "There is no kit called" in answer.text


class TestLesson:
    def test_what_is_chosen_is_put_into_the_text(self, ada, school):
        ada.post("/grooves", GROOVE)
        kept_kit(ada)
        path = f"/lessons/{school.ada.lesson}/form"
        assert "<option>Kitchen &amp; shuffle</option>" in ada.get(path).text
        sent = form_of(LESSON, groove="Kitchen & shuffle", kit="Nook")
        assert ada.post(path, sent).status == 303
        text = text_of(school)
        lesson = parse_lesson(text)
        assert (lesson.groove.name, lesson.kit.name) == ("Kitchen & shuffle", "Nook")
        assert text.startswith(LESSON.split("\n\n", maxsplit=1)[0])
        assert ada.post(path, form_of(text, title="Another")).status == 303
        assert text_of(school).count("[grooves.") == text_of(school).count("[kits.") == 1

    def test_the_lesson_stays_when_they_are_forgotten_or_changed(self, ada, school):
        ada.post("/grooves", GROOVE)
        path = f"/lessons/{school.ada.lesson}/form"
        ada.post(path, form_of(LESSON, groove="Kitchen & shuffle"))
        ada.post("/grooves/delete", {"name": GROOVE["name"]})
        assert "<option selected>Kitchen &amp; shuffle</option>" in ada.get(path).text
        assert ada.post(path, form_of(text_of(school), title="Another")).status == 303
        assert parse_lesson(text_of(school)).groove.name == "Kitchen & shuffle"
        assert ada.get(f"/lessons/{school.ada.lesson}").status == 200

    def test_a_figure_takes_one_by_name(self, ada, school):
        ada.post("/grooves", GROOVE)
        sent = form_of(LESSON, **{"figure-0-groove": "kitchen & shuffle"})
        assert ada.post(f"/lessons/{school.ada.lesson}/form", sent).status == 303
        assert parse_lesson(text_of(school)).figures[0].groove.name == "Kitchen & shuffle"

    def test_anothers_can_not_be_chosen(self, ada, school):
        kept_kit(ada)
        with school.browser("bo") as bo:
            answer = bo.post(f"/lessons/{school.bo.lesson}/form", form_of(LESSON, kit="Nook"))
        assert answer.status == 422
        assert 'There is no kit called "Nook"' in unescape(answer.text)


class TestWorkshop:
    def test_they_can_be_chosen(self, ada):
        ada.post("/grooves", {**GROOVE, "meter": "3/4", "line-0-on": "1 2 3", "line-1-on": ""})
        kept_kit(ada)
        chosen = {"groove": "Kitchen & shuffle", "kit": "Nook", **TRIED}
        page = ada.get(f"/workshop?{urlencode(chosen)}").text
        assert "<option selected>Kitchen &amp; shuffle</option>" in page
        assert "<option selected>Nook</option>" in page
        told = json.loads(ada.post("/workshop/try", chosen).text)
        assert not {"crash", "china"} & set(told["surfaces"])
        answer = ada.post("/workshop/try", {**chosen, "on": "crash"})
        assert answer.status == 422
        assert (
            json.loads(answer.text)["wrong"]
            == "A fill of my own uses the crash, but the Nook kit doesn't have one; choose another surface."
        )

    def test_a_fill_of_a_lesson_is_taken_there_with_the_lessons_own(self, ada, school):
        with begin_writing(school.setup.store, school.ada.teacher) as transaction:
            tables = '[kits.attic]\nfrom = "four-piece"\nwithout = ["crash"]\n'
            save_text(transaction, school.ada.lesson, LESSON.replace("tempo", 'kit = "attic"\ntempo') + tables)
        page = unescape(ada.get(f"/lessons/{school.ada.lesson}?fill={FILL}").text)
        link = page.split('href="/workshop?', 1)[1].split('"', 1)[0]
        assert "kit=attic" in link
        answer = ada.get(f"/workshop?{link}").text
        assert "<option selected>attic</option>" in answer
        assert "Route 1 of" in answer
        assert "There is no kit" in unescape(ada.get("/workshop?kit=attic").text)

    def test_keeping_tells_what_the_lessons_kit_lacks(self, ada, school):
        kept_kit(ada, "Grand", (), "six-piece")
        sent = {**TRIED, "kit": "Grand", "lesson": str(school.ada.lesson), "name": "low"}
        answer = ada.post("/workshop/save", {**sent, "on": "second floor tom"})
        assert answer.status == 422
        assert (
            "Low uses the second floor tom, but the five-piece kit doesn't have one; choose another surface."
            in unescape(answer.text)
        )
        assert "<option selected>Grand</option>" in answer.text
        assert text_of(school) == LESSON
        assert ada.post("/workshop/save", sent).status == 303
        assert 'name = "low"' in text_of(school)

    def test_anothers_lesson_lends_nothing(self, ada, school):
        with begin_writing(school.setup.store, school.bo.teacher) as transaction:
            save_text(transaction, school.bo.lesson, LESSON + '[kits.attic]\nfrom = "four-piece"\n')
        page = ada.get(f"/workshop?kit=attic&lesson={school.bo.lesson}").text
        assert "There is no kit called" in unescape(page)
        assert "<option>attic" not in page


class TestStudents:
    def test_a_student_plays_one_and_keeps_its_name(self, ada, school):
        kept_kit(ada)
        path = f"/students/{school.ada.student}"
        assert "<option>Nook</option>" in ada.get(path).text
        assert ada.post(path, {"name": "pim", "kit": "Nook"}).status == 303
        ada.post("/kits/delete", {"name": "Nook"})
        assert "<option selected>Nook</option>" in ada.get(path).text
        assert ada.post(path, {"name": "pim", "kit": "Nook"}).status == 303
        with begin_reading(school.setup.store, school.ada.teacher) as transaction:
            assert get_student(transaction, school.ada.student).profile.kit == "Nook"
        assert "<option>Nook</option>" not in ada.get("/students").text

    def test_anothers_is_refused(self, ada, school):
        kept_kit(ada)
        with school.browser("bo") as bo:
            answer = bo.post("/students", {"name": "Sol", "kit": "Nook"})
        assert answer.status == 422
        assert 'There is no kit called "Nook"' in unescape(answer.text)
