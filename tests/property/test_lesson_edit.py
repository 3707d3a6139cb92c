"""Whatever is changed in a lesson's text by parts, the rest stays as it was, and the text can be read."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from fillwright.lesson.edit import read_figure_rows, set_figures, set_values
from fillwright.lesson.written_fills import format_fill, read_fill

WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=12)
REMARKS = st.lists(WORDS.map(lambda words: f"# {words}") | st.just(""), max_size=3)


def quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


@st.composite
def texts(draw):
    """A text of entries, figures and fills in any order, with remarks anywhere, and its remarks."""
    lines: list[str] = []

    def add(line):
        lines.extend(draw(REMARKS))
        lines.append(line + draw(st.sampled_from(["", "  # beside"])))

    for key in draw(st.lists(st.sampled_from(["number", "title", "bars", "order"]), unique=True)):
        value = draw(
            st.sampled_from(["3", "[\n  1, # one\n  2\n]", '"""\n[[fill]]\n# no remark"""']) | WORDS.map(quoted)
        )
        add(f"{key} = {value}")
    for number, table in enumerate(draw(st.lists(st.sampled_from(["figure", "fill"]), max_size=5))):
        add(f"[[{table}]]")
        add(f"name = {quoted(draw(WORDS))}")
        add(f"place = {number}")
    lines.extend(draw(REMARKS))
    return "\n".join(lines) + draw(st.sampled_from(["", "\n"]))


def lines_left(text, after):
    """The lines of a text, remarks and all, that still stand in their order."""
    rest = iter(after.split("\n"))
    return [line for line in text.split("\n") if line in rest]


VALUES = st.dictionaries(
    st.sampled_from(["swing", "level", "teacher"]),
    WORDS | st.lists(WORDS, min_size=1) | st.integers(1, 9),
    min_size=1,
)


@given(texts(), VALUES)
def test_new_values_stand_in_the_text_and_nothing_else_has_moved(text, values):
    after = set_values(text, values)
    assert tomllib.loads(after) == tomllib.loads(text) | values
    assert lines_left(text.rstrip("\n"), after) == text.rstrip("\n").split("\n")
    assert set_values(after, dict.fromkeys(values)).rstrip("\n") == text.rstrip("\n")


@given(texts(), st.sampled_from(["number", "title", "bars", "order"]), WORDS | st.none())
def test_a_changed_value_leaves_the_others_alone(text, key, value):
    after = tomllib.loads(set_values(text, {key: value}))
    wanted = tomllib.loads(text) | {key: value}
    assert after == {name: found for name, found in wanted.items() if found is not None}


@given(texts(), st.data())
def test_figures_are_as_the_rows_say_and_remarks_stay(text, data):
    before = read_figure_rows(text)
    rows = [row | {"name": data.draw(st.just(row["name"]) | WORDS)} for row in before]
    new = [{key: data.draw(WORDS) for key in ("name", "rhythm", "groove", "sticking")} for _ in range(2)]
    after = set_figures(text, [*rows, *new])
    assert read_figure_rows(after) == [row for row in (*rows, *new) if row["name"]]
    assert tomllib.loads(after).get("fill") == tomllib.loads(text).get("fill")
    if all(row["name"] for row in rows):  # what is remarked inside a figure goes with it
        remarks = [line for line in text.split("\n") if line.startswith("# ")]
        assert not remarks or lines_left("\n".join(remarks), after) == remarks


@given(WORDS.filter(bool), WORDS)
def test_a_fill_is_written_as_toml_whatever_it_is_called(name, figure):
    fill = read_fill(name, beats=2, sticking="R - rL>", values="16 16 8", on="snare, high tom with snare")
    (table,) = tomllib.loads(format_fill(fill, figure))["fill"]
    assert (table["name"], table["figure"], table["on"]) == (name, figure, "snare, high tom with snare")
