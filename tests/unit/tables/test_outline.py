import tomllib

import pytest

from fillwright.tables.outline import MAX_NESTING, outline

TEXT = '''\
a.b = 1.5 # no [key] here = 1
c = [
    """x
]y = 1""",
    3,
    { d = 1, "e f".g = [1, 2] }, # ]
]
"q\\u0041" = 'x # = '
s = """a"""""

[t]
z = 1979-05-27 07:32:00

[t.u.v]
x = {}

[[f]]
n = 1
[f.g]
n = 2
[[f.h]]
a = 1
[[f.h]]

[[f]]
n = 3
[f.g.i]
'''


def paths(value, path=()):
    """Every place in what the TOML reader gives."""
    if path:
        yield path
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in pairs:
        yield from paths(inner, (*path, key))


def test_places_are_those_of_the_toml_reader():
    assert set(outline(TEXT).lines) == set(paths(tomllib.loads(TEXT)))


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("a",), 1),
        (("a", "b"), 1),
        (("c",), 2),
        (("c", 0), 3),
        (("c", 1), 5),
        (("c", 2, "e f", "g", 1), 6),
        (("qA",), 8),
        (("s",), 9),
        (("t", "z"), 12),
        (("t", "u"), 14),
        (("t", "u", "v", "x"), 15),
        (("f",), 17),
        (("f", 0, "g", "n"), 20),
        (("f", 0, "h", 0, "a"), 22),
        (("f", 0, "h", 1), 23),
        (("f", 1, "n"), 26),
        (("f", 1, "g", "i"), 27),
    ],
)
def test_lines(path, line):
    assert outline(TEXT).lines[path] == line


def test_a_missing_key_has_the_line_of_its_table():
    places = outline(TEXT)
    assert places.find_line(("f", 1, "cue")) == 25
    assert places.find_line(("title",)) == 1
    assert places.find_line(()) == 1


def test_windows_line_ends():
    assert outline("a = 1\r\nb = 2\r\n").lines == {("a",): 1, ("b",): 2}


def test_keys_that_stand_twice():
    (twice,) = outline("a = 1\n[t]\na = 2\nb = 3\nb = 4\n").repeated
    assert (twice.path, twice.first_line, twice.line) == (("t", "b"), 4, 5)


@pytest.mark.parametrize(
    ("text", "nesting", "line"),
    [
        ("a = 1", 0, 1),
        ("a = 1\nb = [\n[1.5]]", 3, 3),
        ("a = 1\na.b.c.d = 1", 3, 2),
        ("[" * 1000, 1000, 1),
        ("[[a]]\n[[b]]", 2, 1),
    ],
)
def test_nesting(text, nesting, line):
    places = outline(text)
    assert (places.nesting, places.deepest_line) == (nesting, line)


def test_beyond_the_nesting_no_places_are_looked_for():
    assert outline("a = " + "[" * MAX_NESTING).lines
    assert not outline("a = " + "[" * (MAX_NESTING + 1)).lines


@pytest.mark.parametrize(
    "text",
    ["a", "= 1", "[", "[]", "[[]]", "a = {b", "a = {=,=}", "a = [=]", "a = [}]", '"', "'''", '"\\', "a.", "\\"],
)
def test_a_text_that_is_not_toml_does_no_harm(text):
    assert outline(text + "\nz = 1\n").nesting <= 2


def test_a_broken_line_spoils_only_itself():
    assert outline("a b = 1\nz = {\ny = 1\n").lines[("y",)] == 3


def test_a_key_in_quotes_that_can_not_be_read_stays_as_it_is():
    assert outline('"\\q" = 1\n').lines == {('"\\q"',): 1}
