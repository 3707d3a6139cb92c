"""A user's table of MIDI notes: what it changes, and the errors in it."""

import time

import pytest

from fillwright.errors import MistakeKind, TableError
from fillwright.score.parts.midi_notes import get_default_notes
from fillwright.tables.midi_notes import read_midi_notes


@pytest.fixture
def read(tmp_path):
    """A function from the text of a table to the surfaces in it."""

    def read(text, warn=pytest.fail):
        (tmp_path / "notes.toml").write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_midi_notes(tmp_path / "notes.toml", warn=warn)

    return read


def test_a_users_own_notes_come_before_the_projects(read):
    notes = read('[midi_notes]\n99 = "china"\n38 = "floor tom"\n55 = "splash"\n')
    assert [notes.find(note, recorded=False) for note in (99, 38, 55)] == ["china", "floor tom", "splash"]
    assert notes.find(55, recorded=True) == "splash"  # ours has a crash there
    assert get_default_notes().find(55, recorded=True) == "crash"


def test_notes_of_an_electronic_kit_are_for_recordings_only(read):
    notes = read('[electronic_kit]\n38 = "rim"\n[midi_notes]\n39 = "snare"\n')
    assert (notes.find(38, recorded=True), notes.find(38, recorded=False)) == ("rim", "snare")
    assert notes.find(39, recorded=True) == "snare"  # ours has a second floor tom there


def test_old_headings_are_read_with_one_note_each(read):
    said = []
    old = read('[keys]\n99 = "china"\n[electronic]\n38 = "rim"\n', said.append)
    assert old == read('[midi_notes]\n99 = "china"\n[electronic_kit]\n38 = "rim"\n')
    assert said == [
        'notes.toml, line 1: "keys" is now called "midi_notes"; the old name still works.',
        'notes.toml, line 3: "electronic" is now called "electronic_kit"; the old name still works.',
    ]


def test_a_byte_order_mark_is_accepted(read):
    assert read(b'\xef\xbb\xbf[midi_notes]\n99 = "china"\n').find(99, recorded=False) == "china"


def test_a_large_table_is_read(read):
    assert read("#" * 150_000 + '\n[midi_notes]\n99 = "china"\n').find(99, recorded=False) == "china"


SURFACE = 'write the name of a surface, such as "snare".'
NONE = 'There are no MIDI notes; write [midi_notes] and below it, for example, 38 = "snare".'


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", NONE),
        ("[midi_notes]\n", NONE),
        ("[keys", "line 1, column 6: The heading needs a ] at its end."),
        (
            '[midi_notes]\n99 = "china"\n[electronc]\n38 = "rim"\n',
            'line 3, electronc: This key is unknown here; did you mean "electronic_kit"?',
        ),
        ("midi_notes = 3", "line 1, midi_notes: Found 3; write [midi_notes] and below it"),
        (
            '[midi_notes]\n128 = "snare"\n',
            'line 2, 128 in [midi_notes]: "128" is not a MIDI note; write a whole number from 0 to 127.',
        ),
        (
            '[midi_notes]\nsnare = "snare"\n',
            'line 2, snare in [midi_notes]: "snare" is not a MIDI note; write a whole number from 0 to 127.',
        ),
        ("[midi_notes]\n38 = 3\n", f"line 2, 38 in [midi_notes]: Found 3; {SURFACE}"),
        (
            '[keys]\n38 = "snar"\n',
            'line 2, 38 in [keys]: There is no surface called "snar"; did you mean "snare"?',
        ),
        (
            "[midi_notes]\n38 = 1" + "0" * 4301,
            "line 2: A number has thousands of digits; none needs more than 4.",
        ),
        ("#" * 300_000, "This file has 300 kB; a table of MIDI notes has at most 256 kB."),
    ],
)
def test_mistakes(read, text, sentence):
    with pytest.raises(TableError, match=r"^notes\.toml") as caught:
        read(text)
    assert sentence in str(caught.value)


def test_every_mistake_is_reported_with_line_and_key(read):
    with pytest.raises(TableError, match="notes") as caught:
        read('[midi_notes]\n300 = "snare"\n38 = "snar"\n[electronc]\n40 = "rim"\n')
    assert [(mistake.line, mistake.key, mistake.kind) for mistake in caught.value.mistakes] == [
        (2, "300 in [midi_notes]", MistakeKind.VALUE),
        (3, "38 in [midi_notes]", MistakeKind.UNKNOWN_NAME),
        (4, "electronc", MistakeKind.UNKNOWN_KEY),
    ]


def test_deep_dotted_keys_are_refused_at_once(read):
    start = time.process_time()
    with pytest.raises(TableError, match="nested 48999 deep; at most 8 can be read"):
        read("a." * 48_999 + "a=1")
    assert time.process_time() - start < 2  # seconds; it took 43 before the nesting was measured first


def test_a_missing_table(tmp_path):
    with pytest.raises(TableError, match=r"none\.toml: There is no such file; check its name and folder\.$"):
        read_midi_notes(tmp_path / "none.toml", warn=pytest.fail)
