"""What holds for any text: sticking is written and read without loss, and junk is refused kindly."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from fillwright.errors import FillwrightError
from fillwright.music.counting import parse_places
from fillwright.music.grooves import find_groove
from fillwright.music.ladder import MAX_RUNGS, parse_ladder
from fillwright.music.meter import find_meter, list_meters
from fillwright.music.notevalue import format_value, parse_values
from fillwright.music.rudiments import find_figure, parse_rhythm
from fillwright.music.sticking import format_sticking, parse_sticking
from fillwright.music.stroke import Kind, Level, Limb, Slot, Stroke, mirror
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import FASTEST, SLOWEST

strokes = st.builds(
    Stroke,
    hand=st.sampled_from([Limb.RIGHT, Limb.LEFT]),
    kind=st.sampled_from(Kind),
    level=st.sampled_from(Level),
)
slots = st.lists(st.one_of(strokes, st.none()), min_size=1, max_size=64).filter(any).map(tuple)

WORDS = ["R", "L", "lR", "rL", "llR", "rrL", "R>", "L>z", "Rz>", "(L)", "(rL)", "-", "|", ","]
sticking_texts = st.lists(st.sampled_from(WORDS), min_size=1, max_size=40).map(" ".join).map("R ".__add__)

Reader = Callable[[str], object]
READERS: dict[str, Reader] = {
    "sticking": parse_sticking,
    "places": lambda text: parse_places(text, find_meter("4/4")),
    "places in 7/8": lambda text: parse_places(text, find_meter("7/8")),
    "ladder": parse_ladder,
    "values": parse_values,
    "rhythm": lambda text: parse_rhythm(text, 4),
    "meter": find_meter,
    "surface": find_surface,
    "figure": find_figure,
    "groove": find_groove,
}
each_reader = pytest.mark.parametrize("read", READERS.values(), ids=READERS)

near_misses = st.text(alphabet="RLrlz>()-|, 0123456789te&a./step²٣", max_size=60)


@given(slots)
def test_a_sticking_written_and_read_is_the_same(made: tuple[Slot, ...]) -> None:
    assert parse_sticking(format_sticking(made)) == made


@given(sticking_texts)
def test_a_sticking_read_and_written_settles_at_once(text: str) -> None:
    settled = format_sticking(parse_sticking(text))
    assert parse_sticking(settled) == parse_sticking(text)
    assert format_sticking(parse_sticking(settled)) == settled


@given(slots)
def test_a_mirrored_sticking_has_every_letter_of_the_other_hand(made: tuple[Slot, ...]) -> None:
    turned = format_sticking(made).translate(str.maketrans("RLrl", "LRlr"))
    assert format_sticking(mirror(made)) == turned
    assert mirror(mirror(made)) == made


@given(st.lists(st.sampled_from(["1", "2t", "4.", "8", "8t", "16", "16t", "32."]), min_size=1))
def test_note_values_written_and_read_are_the_same(words: list[str]) -> None:
    assert [format_value(value) for value in parse_values(" ".join(words))] == words


@given(st.integers(SLOWEST, FASTEST), st.integers(SLOWEST, FASTEST), st.integers(10, 400))
def test_a_ladder_climbs_from_end_to_end_by_its_step_at_most(one: int, other: int, step: int) -> None:
    low, high = sorted((one, other))
    rungs = parse_ladder(f"{low}..{high} step {step}")
    assert (rungs[0], rungs[-1]) == (low, high)
    rises = [after - before for before, after in pairwise(rungs)]
    assert all(0 < rise <= step for rise in rises)
    assert all(rise == step for rise in rises[:-1])


@given(st.lists(st.integers(SLOWEST, FASTEST), min_size=1, max_size=MAX_RUNGS, unique=True))
def test_listed_tempos_are_read_as_they_stand(tempos: list[int]) -> None:
    assert parse_ladder(", ".join(map(str, sorted(tempos)))) == tuple(sorted(tempos))


@given(st.sampled_from(list_meters()), st.data())
def test_places_lie_in_the_bar(name: str, data: st.DataObject) -> None:
    where = find_meter(name)
    parts = ["", "&"] if where.counts_eighths else ["", "e", "&", "a", "trip", "let"]
    counts = st.integers(1, where.numerator).map(str)
    words = data.draw(st.lists(st.tuples(counts, st.sampled_from(parts)), min_size=1, unique=True))
    places = [at for at, _ in parse_places(" ".join(map("".join, words)), where)]
    assert len(set(places)) == len(words)
    assert all(0 <= at < where.bar for at in places)


@each_reader
@given(text=st.one_of(st.text(max_size=200), near_misses))
@example("9" * 5000)
@example("²")
@example("\x00")
@example("60..100 step " + "0" * 5000)
def test_any_text_is_read_or_refused_in_a_sentence(read: Reader, text: str) -> None:
    try:
        read(text)
    except FillwrightError as error:
        assert str(error).endswith((".", "?"))  # noqa: PT017 - reading is allowed to succeed


JUNK = [
    "R",
    "0",
    "9",
    "(",
    "l",
    "z>",
    " ",
    "R ",
    "16 ",
    "1 ",
    "- ",
    "1..",
    "1..2 step ",
    "\n",
    "x-",
    "&",
    "é",
    "\x00",
]


@each_reader
@pytest.mark.parametrize("unit", JUNK)
def test_100_kb_of_junk_is_refused(read: Reader, unit: str) -> None:
    with pytest.raises(FillwrightError, match=r"[.?]$"):
        read(unit * (100_000 // len(unit)))
