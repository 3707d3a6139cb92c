"""Grooves and kits of a teacher's own: whatever is taken is played, drawn, written down and read back."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fillwright.craft.player.kits import PART_OF, find_kit, load_kits
from fillwright.errors import FillwrightError, FitError
from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.music.counting import format_place, parse_places
from fillwright.music.meter import find_meter, list_meters
from fillwright.music.phrase import build_phrase
from fillwright.music.surfaces import find_surface, load_surfaces
from fillwright.pack.handout import draw_plan
from fillwright.score.engraving.kit_plan import draw_kit
from fillwright.score.sheet import Sheet
from fillwright.tables.kits_and_grooves import (
    check_own_name,
    format_groove,
    format_kit,
    make_groove,
    make_kit,
    parse_own_tables,
)

HEAD = 'number = 1\ntitle = "Mine"\nlevel = "professional"\n'
FIGURE = """
[[figure]]
name = "single stroke roll"
rhythm = "16"
beats = [1.5, 2]
[[figure]]
name = "flam"
rhythm = "8"
"""


@st.composite
def lines(draw, where):
    """Lines of a groove, some of which can't be played."""
    counts = find_meter(where).numerator
    parts = ("", "&") if find_meter(where).counts_eighths else ("", "e", "&", "a", "trip", "let")
    place = st.builds("{}{}".format, st.integers(1, counts), st.sampled_from(parts))
    marked = st.builds(str.format, st.sampled_from(["{}", "{}", "{}>", "({})"]), place)
    made = []
    for struck in draw(st.lists(st.sampled_from([*load_surfaces()]), min_size=1, max_size=5)):
        hand = {} if find_surface(struck).foot else {"hand": draw(st.sampled_from("RL"))}
        on = draw(st.lists(marked, min_size=1, max_size=5, unique=True))
        made.append({"surface": struck, **hand, "at": " ".join(on)})
    return made


@st.composite
def grooves_of_ones_own(draw):
    """A groove that is taken, and its text."""
    where = draw(st.sampled_from(list_meters()))
    asked = draw(lines(where))
    try:
        made = make_groove("mine", {"meter": where, "lines": asked})
    except FillwrightError:
        assume(False)
    return made, format_groove("mine", where, asked)


def read(text):
    """A lesson, or what is wrong with its text."""
    try:
        return parse_lesson(text), ""
    except FillwrightError as error:
        return None, str(error)


def named(name, kind):
    """A name, or what is wrong with it."""
    try:
        return check_own_name(name, kind), ""
    except FillwrightError as error:
        return None, str(error)


@given(grooves_of_ones_own())
@settings(max_examples=150, deadline=None)
def test_a_groove_that_is_taken_is_written_and_read_back(found):
    groove, text = found
    assert parse_own_tables(text, "text").grooves == (groove,)
    assert Sheet(phrase=build_phrase(groove, None, bars=1)).bars()
    struck = [(hit.at, hit.stroke.hand) for hit in groove.hits]
    assert len(struck) == len(set(struck))


@given(grooves_of_ones_own())
@settings(max_examples=40, deadline=None)
def test_fills_follow_any_groove(found):
    groove, text = found
    lesson, told = read(f'{HEAD}groove = "mine"\n{FIGURE}\n{text}')
    assert "groove" not in told  # a figure may not fill the span; the groove is taken
    for fill in build_fills(lesson).fills if lesson else ():
        assert fill.phrase.bars[0].hits == groove.hits
        assert fill.sheet.bars()


@given(
    st.sampled_from([*load_kits()]),
    st.sets(st.sampled_from([*load_surfaces()])),
    st.sampled_from(["right", "left"]),
)
@settings(max_examples=40, deadline=None)
def test_a_kit_that_is_taken_has_fills_that_stay_on_it(base, unwanted, hand):
    without = [name for name in find_kit(base).spots if name in unwanted]
    try:
        kit = make_kit("mine", {"from": find_kit(base), "without": without})
    except FitError:
        left = set(find_kit(base).spots) - unwanted
        assert not {"snare", "kick"} <= left or any(PART_OF.get(name, name) not in left for name in left)
        return
    text = format_kit("mine", base, without)
    assert parse_own_tables(text, "text").kits == (kit,)
    assert draw_kit(kit).width_cm > 0
    lesson = parse_lesson(f'{HEAD}kit = "mine"\nhand = "{hand}"\n{FIGURE}\n{text}')
    for fill in build_fills(lesson).fills:
        assert {hit.surface.name for hit in fill.step.route.hits} <= set(kit.spots)
        assert draw_plan(lesson, fill).svg


@given(st.text(max_size=90), st.sampled_from(["groove", "kit"]))
def test_a_name_that_is_taken_is_read_back(name, kind):
    taken, told = named(name, kind)
    assert told.isprintable()
    assume(taken)
    text = (
        format_groove(taken, "4/4", [{"surface": "kick", "at": "1"}])
        if kind == "groove"
        else format_kit(taken, "four-piece", [])
    )
    own = parse_own_tables(text, "text")
    assert [one.name for one in (*own.grooves, *own.kits)] == [taken]


@given(st.sampled_from(list_meters()), st.data())
def test_a_place_is_named_as_it_is_read(where, data):
    made = find_meter(where)
    parts = (1, 2) if made.counts_eighths else (1, 2, 3, 4)
    size = data.draw(st.sampled_from(parts))
    at = Fraction(data.draw(st.integers(0, made.numerator * size - 1)), size * made.denominator)
    assert [place for place, _ in parse_places(format_place(made, at), made)] == [at]
