"""A lesson file: whatever stands in it, the answer is a lesson or its mistakes, and soon."""

import string
import tempfile
import tomllib
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fillwright.craft.steps import plan_steps
from fillwright.errors import TableError
from fillwright.lesson.file import Lesson, parse_lesson, read_demo_text, read_lesson
from fillwright.tables.outline import outline

EVERY_KEY = """
number = 7
title = "Left hand first"
series = 'Kitchen Table Fills'
purpose = "Let the left hand start."
groove = "six-eight"
tempo = [50, 60, 72]
bars = 2
steps = ["round the kit", "last beat", "mixed"]
landing = ["crash", "kick"]
swing = 0.667
flam_ms = 30
click = false
notes = ["Slow first.", \"\"\"Then
faster.\"\"\"]
earlier = ["flam"]
[[figure]]
name = "paradiddle"
rhythm = "8"
groove = "straight eighths"
lead = "left"
beats = [2, 2.5]
cue = "pa ra did -"
[[figure]]
name = "answer"
sticking = "L> - (R) llR"
rhythm = "4 8 8t 8t"
alternates = false
"""

OWN_TABLES = """
groove = "kitchen waltz"
kit = "practice room"
number = 8
title = "Mine"
[[figure]]
name = "single paradiddle"
groove = "two"
[grooves."kitchen waltz"]
meter = "3/4"
tempo = [60, 120]
lines = [
    { surface = "hi-hat", hand = "R", at = "1 & 2 & 3 &" },
    { surface = "snare", hand = "L", at = "2> (3a)" },
    { surface = "kick", at = "1" },
]
[grooves.two]
meter = "4/4"
lines = [{ surface = "foot hi-hat", at = "2 4" }]
[kits."practice room"]
from = "five-piece"
without = ["china", "splash"]
surfaces = [{ name = "crash", at = [-60, 90.5], size = 46 }]
"""

PIECES = [
    *('"', "'", '"""', "'''", "[", "]", "[[", "]]", "{", "}", "=", ",", ".", "#", "\n", "\r", "\\", "\\u0000"),
    *(
        "true",
        "-1",
        "0",
        "1e999",
        "nan",
        "-inf",
        "0x" + "f" * 5000,
        "9" * 4500,
        "2.5",
        "1979-05-27",
        "25:00:00",
    ),
    *(
        '""',
        '"x"',
        "[]",
        "[1, 2]",
        "{}",
        "[[[[[[[[[[",
        "a.b.c.d.e.f.g.h.i.j",
        "\0",
        "\ufeff",
        "\ud800",
        "\u202e",
    ),
    *('"shufle"', '"slow twelve-eight"', '"seven-eight"', '"march"', '"32t"', '"8t 8t 8t 8."', '"R L R L L"'),
    *("[grooves.x]\n", "[kits.x]\n", '"R"', '"snare"', '"china"', '"1trip 2>"', "[1, 96]"),
    *('"R L"', '"z"', "steps = []\n", "beats = 80\n", "[[figure]]\n", "bars = 16\n", 'name = "flam accent"\n'),
]


@st.composite
def mutated(draw):
    """A good lesson with pieces cut out, put in, doubled, and exchanged."""
    text = draw(st.sampled_from([read_demo_text(), EVERY_KEY, OWN_TABLES]))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        end = min(len(text), at + draw(st.sampled_from([0, 0, 1, 2, 5, 30, 300])))
        piece = draw(st.sampled_from(PIECES) | st.text(max_size=5) | st.just(text[at:end] * 2))
        text = text[:at] + piece + text[end:]
    return text


@st.composite
def revalued(draw):
    """A good lesson with other values behind some keys."""
    rows = draw(st.sampled_from([read_demo_text(), EVERY_KEY, OWN_TABLES])).split("\n")
    with_keys = [number for number, row in enumerate(rows) if " = " in row]
    for number in draw(st.lists(st.sampled_from(with_keys), min_size=1, max_size=4)):
        key = rows[number].split(" = ")[0]
        rows[number] = f"{key} = {draw(st.sampled_from(PIECES))}"
    return "\n".join(rows)


def lesson_or_mistakes(read, source):
    """What reading gives; anything but a lesson and its mistakes goes through."""
    try:
        lesson = read(source)
    except TableError as error:
        told = str(error).split("\n")
        assert all(told)
        assert all(line.isprintable() for line in told)
        assert len(told) == len(set(told))
        return None
    assert isinstance(lesson, Lesson)
    return lesson


@given(mutated() | revalued())
@settings(max_examples=250, deadline=None)
def test_a_spoilt_lesson_is_a_lesson_or_its_mistakes(text):
    lesson = lesson_or_mistakes(parse_lesson, text)
    for brief in lesson.list_briefs() if lesson else ():
        assert brief.figure.rhythms


@given(st.text(max_size=200) | st.text(alphabet="[]{}=.,\"'\\#\n a1", max_size=200))
@settings(max_examples=300, deadline=None)
def test_any_text_is_refused(text):
    assert lesson_or_mistakes(parse_lesson, text) is None


@given(st.binary(max_size=200) | mutated().map(lambda text: text.encode("utf-8", "surrogatepass")))
@settings(max_examples=60, deadline=None)
def test_any_bytes_are_a_lesson_or_mistakes(data):
    with tempfile.NamedTemporaryFile(suffix=".toml") as file:
        file.write(data)
        file.flush()
        lesson_or_mistakes(read_lesson, Path(file.name))


LONG = [
    *('"""\\"' * 50_000, "'" * 255_000, "[" * 255_000, "a." * 127_000, "a={" * 85_000, "a=[\n" * 60_000),
    *("x = [" + "1," * 120_000 + "]", "\n".join(f"k{n} = 1" for n in range(22_000)), "#" * 300_000),
    *("[a]\n" * 60_000, "[[figure]]\n" * 23_000, 'number = "' + "é" * 120_000 + '"'),
    "".join(
        f"[grooves.g{n}]\nlines = {[{'at': '1 5'}] * 12}\n".replace("'", '"').replace(": ", " = ")
        for n in range(40)
    ),
    "[grooves]\n" + "".join(f"g{n} = 1\n" for n in range(20_000)),
    "".join(
        f'[[figure]]\nname = "o{n}"\nsticking = "{"R L " * 32}"\nrhythm = "32t"\nbeats = 80\n'
        for n in range(40)
    ),
    'number = 1\ntitle = "a"\nearlier = [' + '"zzzzzz", ' * 40 + "]\n",
]


@pytest.mark.parametrize("text", LONG, ids=lambda text: text[:8])
def test_a_long_text_made_to_trip_the_reader(text):
    assert lesson_or_mistakes(parse_lesson, text) is None


def demo_with(key, value):
    rows = (f"{key} = {value}" if row.startswith(f"{key} = ") else row for row in read_demo_text().split("\n"))
    return "\n".join(rows)


@given(
    bars=st.integers(1, 16),
    tempo=st.lists(st.integers(20, 110), min_size=1, max_size=40, unique=True).map(sorted),
    number=st.integers(1, 9999),
)
@settings(max_examples=30, deadline=None)
def test_what_is_written_is_what_is_read(bars, tempo, number):
    text = demo_with("bars", bars).replace('"steady"', '"professional"')
    lesson = parse_lesson(
        text.replace('"60..90 step 10"', str(tempo)).replace("number = 12", f"number = {number}")
    )
    assert (lesson.bars, list(lesson.tempo), lesson.number) == (bars, tempo, number)


@given(groove=st.sampled_from(["shuffle", "waltz", "march", "six-eight", "slow twelve-eight", "five-four"]))
@settings(max_examples=6, deadline=None)
def test_whatever_is_accepted_makes_fills(groove):
    """Where a lesson is read, every figure of it has at least one fill."""
    lesson = lesson_or_mistakes(parse_lesson, f'groove = "{groove}"\n{EVERY_KEY.replace("groove", "#")}')
    text = f'groove = "{groove}"\n' + read_demo_text().replace('groove = "shuffle"\n', "")
    lesson = lesson_or_mistakes(parse_lesson, text) or lesson
    for brief in lesson.list_briefs() if lesson else ():
        assert plan_steps(brief).steps


# Lines: texts are built with the line of each key known, and compared.

BARE = st.text(alphabet=string.ascii_letters + string.digits + "-_", min_size=1, max_size=4)
KEYS = BARE | st.text(alphabet="a .[]#='\"\né", max_size=4)
VALUES = st.sampled_from(
    [
        *("1", "-2.5", "true", "nan", "1979-05-27 07:32:00", '"x = 1"', "'[a]'", '"\\" # ]"', "'''a\n'b'''"),
        *('"""\n[a]\nb = 1\\\n"""', '""""a"""""', '""', "''", "''''''", '""""""', "'\\'"),
    ]
)


def quoted(key):
    plain = set(key) <= set(string.ascii_letters + string.digits + "-_")
    written = key.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return key if plain and key else f'"{written}"'


@st.composite
def values(draw, depth=0):
    """Pairs of a value's text and the places in it, each with its line from the value's first."""
    kind = draw(st.sampled_from(["plain", "plain", "list", "table"])) if depth < 2 else "plain"
    if kind == "plain":
        return draw(VALUES), {}
    if kind == "list":
        text, places = "[", {}
        for number in range(draw(st.integers(0, 3))):
            text += draw(st.sampled_from(["", " ", "\n", " # ]\n", "\n\n"]))
            line = text.count("\n")
            inner, held = draw(values(depth=depth + 1))
            places[(number,)] = line
            places |= {(number, *path): line + at for path, at in held.items()}
            text += inner + draw(st.sampled_from(["", "\n", " # ,\n"])) + ","
        return text + draw(st.sampled_from(["", "\n"])) + "]", places
    text, places = "{", {}
    for key in draw(st.lists(KEYS, max_size=2, unique=True)):
        line = text.count("\n")
        inner, held = draw(values(depth=depth + 1))
        text += f"{', ' if places else ''}{quoted(key)} = {inner}"
        places[(key,)] = line
        places |= {(key, *path): line + at for path, at in held.items()}
    return text + "}", places


@st.composite
def documents(draw):
    """A TOML text and the line of every place in it."""
    text = draw(st.sampled_from(["", "\n", "# [a]\n"]))
    expected = {}

    def entries(table):
        nonlocal text
        for key in draw(st.lists(KEYS.filter(lambda key: key not in ("T", "L")), max_size=3, unique=True)):
            line = text.count("\n") + 1
            path = (*table, key)
            inner, held = draw(values())
            expected[path] = line
            expected.update({(*path, *rest): line + at for rest, at in held.items()})
            text += f"{quoted(key)} = {inner}{draw(st.sampled_from(['', ' # x = 1']))}\n"

    entries(())
    for number in range(draw(st.integers(0, 2))):
        line = text.count("\n") + 1
        expected.setdefault(("L",), line)
        expected[("L", number)] = line
        text += "[[L]]\n"
        entries(("L", number))
        if draw(st.booleans()):
            expected[("L", number, "T")] = text.count("\n") + 1
            text += "[ L . T ]\n"
            entries(("L", number, "T"))
    return text, expected


@given(documents())
@settings(max_examples=200, deadline=None)
def test_every_place_has_its_line(document):
    text, expected = document
    assert outline(text).lines == expected


def paths(value, path=()):
    if path:
        yield path
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in pairs:
        yield from paths(inner, (*path, key))


@given(mutated() | documents().map(lambda document: document[0]))
@settings(max_examples=200, deadline=None)
@example("a.b.c = 1\na.b.d = [{e.f = 1}]\n[g.h]\n[[g.i]]\n[g.i.j.k]\n[g]\n")
def test_the_places_are_those_that_the_toml_reader_finds(text):
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError):
        assert outline(text).nesting >= 0
        return
    places = outline(text)
    if places.lines:
        assert set(places.lines) == set(paths(table))
