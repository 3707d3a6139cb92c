import io

import pytest
from pypdf import PdfReader

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.music.rudiments import find_figure
from fillwright.music.stroke import Limb
from fillwright.pack.contents import Engravings
from fillwright.pack.handout import format_series_line, format_sticking, get_measure_mm, typeset_handout
from fillwright.pack.hints import describe_grade

TEXT = """number = 3
title = "{title}"
tempo = [60, 75]
bars = 2
{more}

[[figure]]
name = "single paradiddle"
steps = ["last beat", "whole bar", "round the kit"]

[[figure]]
name = "flam accent"
groove = "shuffle"
steps = ["last two beats", "accents to the toms"]
"""
MARKUP = [
    "#",
    "*bold*",
    "_slant_",
    "$x^2$",
    "@ref",
    "<label>",
    "\\\\",
    "`raw`",
    "//",
    "/* */",
    "[x]",
    "{{x}}",
    "~",
    "--",
    "= x",
]


def text_of(page):
    return " ".join(page.extract_text().split())


def read(text):
    lesson = parse_lesson(text)
    fills = build_fills(lesson).fills
    pages = PdfReader(io.BytesIO(typeset_handout(lesson, fills, Engravings(lesson, fills)))).pages
    return lesson, fills, [text_of(page) for page in pages]


def printed(title="Small", more=""):
    return read(TEXT.format(title=title, more=more))


def set_in_type(words):
    """Words as the typesetter prints them."""
    return words.replace("'", "\N{RIGHT SINGLE QUOTATION MARK}")


def in_order(text, parts):
    """Return True if the parts are in the text, one after the other."""
    place = 0
    for part in parts:
        place = text.find(part, place)
        if place < 0:
            return False
        place += len(part)
    return True


@pytest.fixture(scope="module")
def small():
    return printed(
        more='purpose = "Two figures in one breath."\nnotes = ["Slowly first.", "Then with the band."]'
    )


@pytest.fixture(scope="module")
def demo():
    return read(read_demo_text())


class TestText:
    def test_the_order_is_that_of_a_lesson(self, small):
        _, fills, pages = small
        parts = ["Lesson 3", "Small", "Two figures in one breath.", "6 fills", "60, 75", "Slowly first."]
        parts.append("Then with the band.")
        for heading, group in (
            ("Single paradiddle diddles · groove: straight", fills[:4]),
            ("Flam accent flams · groove: shuffle", fills[4:]),
        ):
            parts += [heading, *(set_in_type(f"{fill.number} {fill.caption}") for fill in group)]
        parts += ["Notation key", "How to practise", "Look after yourself"]
        assert in_order(" ".join(pages), parts)

    def test_every_caption_and_number_of_the_demo_in_order(self, demo):
        _, fills, pages = demo
        assert [fill.number for fill in fills] == list(range(1, 47))
        assert in_order(" ".join(pages), [set_in_type(f"{fill.number} {fill.caption}") for fill in fills])

    def test_every_figure_of_the_demo_with_group_and_groove(self, demo):
        text = " ".join(demo[2])
        wanted = ["Single stroke four single strokes · groove: straight eighths", "R L R L"]
        wanted += ["Flam accent flams · groove: shuffle", "lR> L R rL> R L"]
        wanted += ["Three, three and two groove: straight eighths", "R> L L R> L L R> L"]
        assert in_order(text, wanted)

    def test_every_page_says_where_it_belongs(self, demo):
        pages = demo[2]
        for number, page in enumerate(pages, start=1):
            assert page.endswith(
                f"Kitchen Table Fills · 12. Nine figures round the kit {number} / {len(pages)}"
            )

    def test_every_fill_has_its_reading_and_a_box_for_every_tempo(self, small):
        text = " ".join(small[2])
        assert text.count("60 75") == 6
        assert (text.count("In sixteenths"), text.count("In triplets")) == (4, 2)

    def test_every_fill_has_its_grade_its_top_tempo_and_a_place_to_watch(self, demo):
        _, fills, pages = demo
        lines = [describe_grade(fill) for fill in fills]
        assert in_order(" ".join(pages), lines)
        assert lines[9] == "Grade 6, top tempo 73 bpm. Watch the right hand on beat 1."

    def test_a_fill_has_only_the_tempos_that_its_player_can_reach(self, demo):
        _, fills, pages = demo
        text = " ".join(pages)
        slow = next(fill for fill in fills if fill.ladder == (60, 70))
        after = text[text.index(describe_grade(slow)) :]
        assert after.startswith(f"{describe_grade(slow)} 60 70 ")
        assert not after.startswith(f"{describe_grade(slow)} 60 70 80")

    def test_sticking_and_counts_can_be_selected(self, small):
        assert "R L R R L R L L R L R R L R L L" in " ".join(small[2])

    def test_the_notation_key_names_what_is_struck(self, small):
        text = " ".join(small[2])
        key = text[text.index("Notation key") : text.index("How to practise")]
        for name in ("Kick", "Snare", "Floor tom", "Mid tom", "High tom", "Hi-hat", "Crash", "Accent", "Flam"):
            assert name in key
        assert "Drag" not in key
        assert "Ride" not in key

    def test_the_cautions_speak_of_hearing_and_of_strain(self, small):
        text = " ".join(small[2])
        care = text[text.index("Look after yourself") :]
        for word in (
            "hearing protection",
            "see a doctor",
            "your ears ring or sound dull",
            "Stop when it hurts",
            "numbness",
            "doctor",
        ):
            assert word in care

    @pytest.mark.parametrize("level", ["first-year", "steady", "gigging", "professional"])
    def test_practice_is_that_of_the_level(self, level):
        texts = {name: " ".join(printed(more=f'level = "{name}"')[2]) for name in {level, "steady"}}
        assert "How to practise" in texts[level]
        assert (texts[level] == texts["steady"]) == (level == "steady")

    def test_the_key_explains_grade_top_tempo_and_ladder_and_names_the_glossary(self, small):
        text = " ".join(small[2])
        key = text[text.index("Notation key") : text.index("How to practise")]
        for words in (
            "Grade: How hard a fill is, from 1 (easy) to 10 (hard)",
            "Top tempo: The fastest",
            "Ladder: The tempos",
            "glossary",
        ):
            assert words in key

    def test_a_left_leading_hand_is_named(self):
        words = " ".join(printed(more='hand = "left"')[2])
        assert "The leading hand is the left." in words
        assert "leading hand" not in " ".join(printed()[2])

    def test_a_single_fill_is_one_fill(self):
        text = TEXT.format(title="x", more="").split("[[figure]]")[0]
        pages = read(text + '[[figure]]\nname = "flam"\nsteps = ["last beat"]\n')[2]
        assert "1 fill. Tempo ladder: 60, 75 bpm. Tick a tempo after three clean times in a row." in pages[0]

    def test_without_groove_or_landing_none_is_promised(self):
        text = TEXT.format(title="x", more="landing = []").replace("bars = 2", "bars = 1")
        first = read(text)[2][0]
        assert "Each number is a phrase of 1 bar: the fill." in first
        assert "Land on" not in first


class TestMarkup:
    @pytest.mark.parametrize("sign", MARKUP)
    def test_signs_are_printed_as_they_are(self, sign):
        sign = sign.replace("{{", "{").replace("}}", "}")
        more = f'series = "S {sign} s"\nteacher = "T {sign} t"\npurpose = "P {sign} p"\nnotes = ["N {sign} n"]'
        lesson, _, pages = printed(title=f"A {sign} a", more=more)
        plain = sign.replace("\\\\", "\\")
        assert lesson.title == f"A {plain} a"
        for word in (f"A {plain} a", f"S {plain} s", f"T {plain} t", f"P {plain} p", f"N {plain} n"):
            assert word in pages[0]
        assert pages[0].rstrip("0123456789 /").endswith(f"S {plain} s · 3. A {plain} a")

    def test_a_figure_of_signs(self):
        name = "#*_$@<x>\\\\`//"
        head = f'number = 1\ntitle = "x"\n[[figure]]\nname = "{name}"\n'
        text = head + 'sticking = "R L"\nrhythm = "16"\nsteps = ["last beat"]\n'
        assert "#*_$@<x>\\`// groove" in read(text)[2][0]

    def test_apostrophes_are_typographers(self):
        assert "A good day’s work" in printed(title="A good day's work")[2][0]


class TestSize:
    def test_long_words_and_many_notes_still_make_pages(self):
        words = "Breathe " * 10
        notes = ", ".join(f'"{number} {"slow " * 58}"' for number in range(12))
        more = f'series = "{words[:79]}"\nteacher = "{words[:79]}"\npurpose = "{"W" * 200}"\nnotes = [{notes}]'
        _, _, pages = printed(title="W" * 80, more=more)
        assert 3 <= len(pages) <= 6
        text = " ".join(pages)
        for number in range(12):
            assert f"{number} slow slow" in text
        assert "Look after yourself" in text

    def test_forty_bars_of_tempos_still_make_pages(self):
        text = TEXT.format(title="x", more="").replace("[60, 75]", '"20..400 step 20"')
        assert "20 40 60" in " ".join(read(text)[2])

    def test_a_letter_page_is_wider(self):
        assert get_measure_mm("letter") - get_measure_mm("a4") == pytest.approx(5.9)

    def test_the_demo_fits_thirteen_pages(self, demo):
        assert len(demo[2]) <= 13


def test_the_series_line_leaves_out_what_is_not_there():
    lines = [
        format_series_line(parse_lesson(TEXT.format(title="x", more=more))) for more in ("", 'teacher = "T"')
    ]
    assert lines == ["Lesson 3", "Lesson 3 · T"]


def test_a_sticking_from_both_leads_where_it_alternates():
    paradiddle, five = find_figure("single paradiddle"), find_figure("single stroke four")
    assert format_sticking(paradiddle, Limb.RIGHT) == "R> L R R   L> R L L"
    assert format_sticking(paradiddle, Limb.LEFT) == "L> R L L   R> L R R"
    assert format_sticking(five, Limb.RIGHT) == five.sticking
