import pytest

from fillwright.errors import SoundsError
from fillwright.music.surfaces import surfaces
from fillwright.sound.samples.midi_notes import general_midi, read_sound_keys
from fillwright.tables.sound_table import LARGEST_BYTES, shown


@pytest.fixture
def read(tmp_path):
    """A function from the text of a table to its keys."""

    def read(text):
        (tmp_path / "keys.toml").write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_sound_keys(tmp_path / "keys.toml")

    return read


def test_general_midi_has_every_surface():
    assert set(general_midi().keys) == set(surfaces())
    assert (general_midi().bank, general_midi().program) == (None, None)


def test_a_table_moves_what_it_names(read):
    keys = read('bank = 0\nprogram = 3\n[keys]\n"floor tom" = 41\nsnare = 40\n')
    assert (keys.bank, keys.program) == (0, 3)
    assert keys.keys == {**general_midi().keys, "floor tom": 41, "snare": 40}


def test_a_table_says_what_is_not_there(read):
    assert "china" not in read("[keys]\nchina = false\n").keys


def test_an_empty_table_changes_nothing(read):
    assert read("") == general_midi()


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("channel = 9", 'keys.toml: "channel" is not read here; write bank, program and [keys].'),
        ("bank = 129", 'keys.toml: "bank" is 129; write a whole number from 0 to 128.'),
        ("program = true", 'keys.toml: "program" is True; write a whole number from 0 to 127.'),
        ("keys = 3", 'keys.toml: "keys" is no table; write [keys] and below it "floor tom" = 41.'),
        ("[keys]\nsnare = 128", 'keys.toml: "snare" is 128; write a whole number from 0 to 127.'),
        ("[keys]\nsnare = true", 'keys.toml: "snare" is True; write a whole number from 0 to 127.'),
        ('[keys]\nsnare = "38"', 'keys.toml: "snare" is "38"; write a whole number from 0 to 127.'),
        ("[keys]\nsnar = 38", 'keys.toml: There is no surface called "snar"; did you mean "snare"?'),
        ("bank = ", "keys.toml can't be read as TOML: Invalid value (at end of document)."),
        (b"\xff\xfe", "keys.toml can't be read as TOML: 'utf-8' codec can't decode byte 0xff"),
        ("a = " + "[" * 3000, "keys.toml can't be read as TOML: "),
        ("#" * (LARGEST_BYTES + 1), "keys.toml has more than 256 kB; no table of sounds needs them."),
    ],
)
def test_mistakes_are_told_in_a_sentence(read, text, sentence):
    with pytest.raises(SoundsError, match=r"^keys\.toml") as caught:
        read(text)
    assert str(caught.value).startswith(sentence)


def test_tables_that_are_not_there(tmp_path):
    with pytest.raises(SoundsError, match=r"^There is no file .*gone\.toml\"; check its name and folder\.$"):
        read_sound_keys(tmp_path / "gone.toml")
    with pytest.raises(SoundsError, match=r"is not a file; name a TOML table\.$"):
        read_sound_keys(tmp_path)
    with pytest.raises(SoundsError, match=r"can't be read; check its name"):
        read_sound_keys(tmp_path / ("a" * 300))


def test_a_long_value_is_shown_shortened():
    assert shown(list(range(100))) == "[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16…"
