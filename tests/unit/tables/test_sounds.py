"""Opening recorded sounds, and errors in their tables."""

import builtins
import os
import sys
from types import ModuleType

import pytest

from fillwright.budget import SOUNDFONT_BYTES, TABLE_BYTES
from fillwright.errors import MistakeKind, SoundsError, TableError
from fillwright.music.surfaces import load_surfaces
from fillwright.sound.samples import fluidsynth as fluid
from fillwright.sound.samples.folder_map import MAP
from fillwright.sound.samples.midi_notes import get_general_midi
from fillwright.tables.sounds import open_sounds, read_folder_map, read_soundfont_notes
from tests.needs import need_fluidsynth
from tests.soundfonts import Drum, soundfont, stroke

KIT = soundfont([Drum(keys=(key, key), samples=stroke(60 * key)) for key in (36, 38, 42)])


def refused(path, **options):
    with pytest.raises(SoundsError, match=r"[.?]$") as caught:
        open_sounds(path, warn=pytest.fail, **options)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_file_that_is_not_there(tmp_path):
    assert (
        refused(tmp_path / "a.sf2")
        == f'There is no file or folder "{tmp_path}/a.sf2"; check its name and folder.'
    )


@pytest.mark.parametrize("name", ["a.wav", "sf2", "a.sfz"])
def test_a_file_of_another_kind(tmp_path, name):
    (tmp_path / name).write_bytes(KIT)
    assert "is not a SoundFont; give a .sf2 or .sf3 file, or a folder with a map." in refused(tmp_path / name)


def test_a_device_is_not_read(tmp_path):
    (tmp_path / "a.sf2").symlink_to("/dev/zero")
    assert "is not a SoundFont; give" in refused(tmp_path / "a.sf2")


def test_a_file_too_large(tmp_path):
    with (tmp_path / "a.sf2").open("wb") as file:
        file.truncate(SOUNDFONT_BYTES + 1_000_000)
    assert refused(tmp_path / "a.sf2") == '"a.sf2" has 2,001 MB; a SoundFont may have 2,000.'


@pytest.mark.parametrize("name", ["a" * 300 + ".sf2", "a\0.sf2"])
def test_names_that_no_file_has(tmp_path, name):
    assert "can't be read; check its name" in refused(tmp_path / name)


def test_an_empty_folder(tmp_path):
    assert refused(tmp_path).endswith(
        "has no sounds.toml; write one that lists the files of each drum and cymbal."
    )


def test_a_table_of_midi_notes_does_not_go_with_a_folder(tmp_path):
    assert refused(tmp_path, notes=tmp_path / "notes.toml").endswith("leave out --sound-notes.")


@pytest.fixture
def font(tmp_path):
    (tmp_path / "kit.sf2").write_bytes(KIT)
    fluid._load_library.cache_clear()
    yield tmp_path / "kit.sf2"
    fluid._load_library.cache_clear()


def test_without_the_python_package(font, monkeypatch):
    monkeypatch.setitem(sys.modules, "fluidsynth", None)
    assert refused(font) == (
        "SoundFonts need pyfluidsynth, which is not installed; "
        'install Fillwright with its extra "soundfonts", or leave out --sounds.'
    )


def test_without_the_library(font, monkeypatch):
    real = builtins.__import__

    def importing(name, *rest, **named):
        if name == "fluidsynth":
            raise ImportError("Couldn't find the FluidSynth library.")
        return real(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", importing)
    assert refused(font) == (
        "SoundFonts need FluidSynth, which is not installed; install FluidSynth, or leave out --sounds."
    )


@pytest.fixture
def _installed():
    need_fluidsynth()


@pytest.mark.usefixtures("_installed")
def test_a_file_that_fluidsynth_will_not_play(font, monkeypatch):
    import fluidsynth  # noqa: PLC0415

    monkeypatch.setattr(fluidsynth.Synth, "sfload", lambda *_: -1)
    assert refused(font) == '"kit.sf2" can\'t be played by FluidSynth; copy the file again or use another one.'


@pytest.mark.usefixtures("_installed")
def test_a_name_that_can_not_be_handed_on(tmp_path):
    path = tmp_path / os.fsdecode(b"\xff.sf2")
    path.write_bytes(KIT)
    assert "rename it in plain letters." in refused(path)


@pytest.mark.usefixtures("_installed")
def test_nothing_is_said_by_the_libraries(font, capfd, monkeypatch):
    """Not where the library was found, nor what it lacks: a report in JSON stands on the output."""
    monkeypatch.setenv("CI", "true")
    monkeypatch.delitem(sys.modules, "fluidsynth", raising=False)
    open_sounds(font, warn=pytest.fail).get_shot("snare", 80, 0)
    assert capfd.readouterr() == ("", "")


def test_a_module_of_that_name_that_is_another(font, monkeypatch):
    monkeypatch.setitem(sys.modules, "fluidsynth", ModuleType("fluidsynth"))
    assert refused(font).startswith("SoundFonts need FluidSynth, which is not installed;")


def test_what_is_wrong_with_a_file_is_said_before_anything_is_loaded(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "fluidsynth", None)
    (tmp_path / "a.sf2").write_bytes(KIT[:-100])
    assert "it is incomplete" in refused(tmp_path / "a.sf2")


def test_errors_may_call_the_folder_by_another_name(tmp_path):
    assert refused(tmp_path, name="my kit").startswith('"my kit" has no sounds.toml;')
    assert refused(tmp_path / "a.sf2", name="my kit") == (
        'There is no file or folder "my kit"; check its name and folder.'
    )


@pytest.fixture
def read_notes(tmp_path):
    """A function from the text of a table to the MIDI notes in it."""

    def read(text):
        (tmp_path / "notes.toml").write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_soundfont_notes(tmp_path / "notes.toml", warn=pytest.fail)

    return read


def test_general_midi_has_every_surface():
    assert set(get_general_midi().notes) == set(load_surfaces())
    assert (get_general_midi().bank, get_general_midi().program) == (None, None)


def test_a_table_moves_the_notes_that_it_names(read_notes):
    read = read_notes('bank = 0\nprogram = 3\n[midi_notes]\n"floor tom" = 41\nsnare = 40\n')
    assert (read.bank, read.program) == (0, 3)
    assert read.notes == {**get_general_midi().notes, "floor tom": 41, "snare": 40}


def test_a_table_removes_a_surface(read_notes):
    assert "china" not in read_notes("[midi_notes]\nchina = false\n").notes


@pytest.mark.parametrize("text", ["", "\ufeff", "# nothing\n", "\ufeff[midi_notes]\n"])
def test_an_empty_table_changes_nothing(read_notes, text):
    assert read_notes(text) == get_general_midi()


NOTE = "write a whole number from 0 to 127, or false for none."


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("channel = 9", "line 1, channel: This key is unknown here; use one of: bank, midi_notes, program."),
        ("[kyes]\n", 'line 1, kyes: This key is unknown here; did you mean "midi_notes"?'),
        ("bank = 129", "line 1, bank: Found 129; write a whole number from 0 to 128."),
        ("program = true", "line 1, program: Found true; write a whole number from 0 to 127."),
        (
            "midi_notes = 3",
            'line 1, midi_notes: Found 3; write [midi_notes] and below it, for example, "floor tom"',
        ),
        ("[midi_notes]\nsnare = 128", f"line 2, snare in [midi_notes]: Found 128; {NOTE}"),
        ("[midi_notes]\nsnare = true", f"line 2, snare in [midi_notes]: Found true; {NOTE}"),
        ('[midi_notes]\nsnare = "38"', f'line 2, snare in [midi_notes]: Found the text "38"; {NOTE}'),
        (
            "[midi_notes]\nsnar = 38",
            'line 2, snar in [midi_notes]: There is no surface called "snar"; did you mean "snare"?',
        ),
        (
            "[keys]\n[midi_notes]\n",
            'line 1, keys: "keys" is the old name of "midi_notes"; keep one of the two.',
        ),
        (
            "bank = ",
            'line 1, column 8: There is no valid value here; put texts in straight quotes, "like this".',
        ),
        ("bank = 1" + "0" * 4301, "line 1: A number has thousands of digits; none needs more than 4."),
        ("a." * 40_000 + "a = 1", "line 1: Lists, tables and dotted keys are nested 40000 deep; at most 8 can"),
        (
            "a = " + "[" * 3000,
            "line 1: Lists, tables and dotted keys are nested 3000 deep; at most 8 can be read.",
        ),
    ],
)
def test_mistakes_in_a_table_of_midi_notes(read_notes, text, sentence):
    with pytest.raises(TableError, match=r"^notes\.toml, line") as caught:
        read_notes(text)
    assert str(caught.value).startswith(f"notes.toml, {sentence}")


def test_files_that_are_no_table(read_notes, tmp_path):
    with pytest.raises(
        TableError, match=r"^notes\.toml: This is not a text file \(byte 0 is 0xff\); save it as UTF-8"
    ):
        read_notes(b"\xff\xfe")
    with pytest.raises(
        TableError, match=r"This file has 257 kB; a table of the MIDI notes of a SoundFont has at most"
    ):
        read_notes("#" * (TABLE_BYTES + 1))
    with pytest.raises(TableError, match=r"gone\.toml: There is no such file; check its name and folder\.$"):
        read_soundfont_notes(tmp_path / "gone.toml", warn=pytest.fail)
    with pytest.raises(
        TableError, match=r"This is a folder; give the name of a table of the MIDI notes of a SoundFont"
    ):
        read_soundfont_notes(tmp_path, warn=pytest.fail)
    with pytest.raises(TableError, match=r"This file can't be read; check its name"):
        read_soundfont_notes(tmp_path / ("a" * 300), warn=pytest.fail)


def test_every_mistake_is_reported_with_line_and_key(read_notes):
    with pytest.raises(TableError, match="bank") as caught:
        read_notes("bank = -1\n\n[midi_notes]\nsnare = 400\nsnar = 3\nkick = 36\n")
    found = [(mistake.line, mistake.key, mistake.kind) for mistake in caught.value.mistakes]
    assert found == [
        (1, "bank", MistakeKind.VALUE),
        (4, "snare in [midi_notes]", MistakeKind.VALUE),
        (5, "snar in [midi_notes]", MistakeKind.UNKNOWN_NAME),
    ]
    assert (caught.value.mistakes[2].category, caught.value.mistakes[2].name) == ("surface", "snar")


def sound(surface, *files, more=""):
    return f'[[sound]]\nsurface = "{surface}"\nfiles = {list(files)}\n{more}\n'


GAIN = "write a number from -60 to 24."
FILES = "write a list of 1 to 64 .wav or .flac files."
MAP_MISTAKES = [
    ("", "sounds.toml, line 1, sound: There is no sound; write [[sound]] and its keys below."),
    ("sound = 3", "line 1, sound: Found 3; write [[sound]] above each sound, its keys below."),
    ("volume = 3", "line 1, volume: This key is unknown here; use one of: gain_db, sound."),
    ("gain_db = 40\n" + sound("snare", "a.wav"), f"line 1, gain_db: Found 40; {GAIN}"),
    ("gain_db = nan\n" + sound("snare", "a.wav"), f"line 1, gain_db: Found nan, which is not a number; {GAIN}"),
    (
        sound("snar", "a.wav"),
        'line 2, surface of sound 1: There is no surface called "snar"; did you mean "snare"?',
    ),
    (
        '[[sound]]\nfiles = ["a.wav"]',
        "line 1, surface of sound 1: This key is missing; write the name of a surface",
    ),
    (
        sound("snare", "a.wav", more="loud = 1"),
        "line 4, loud of sound 1: This key is unknown here; use one of:",
    ),
    (sound("snare"), f"line 3, files of sound 1: Found an empty list; {FILES}"),
    (sound("snare", *["a.wav"] * 65), "line 3, files of sound 1: Found a list of 65; it holds at most 64."),
    ('[[sound]]\nsurface = "snare"', f"line 1, files of sound 1: This key is missing; {FILES}"),
    ('[[sound]]\nsurface = "snare"\nfiles = "a.wav"', f'files of sound 1: Found the text "a.wav"; {FILES}'),
    ('[[sound]]\nsurface = "snare"\nfiles = [3]', f"files of sound 1: Found 3; {FILES}"),
    (
        sound("snare", "a.wav", more="up_to = 128"),
        "line 4, up_to of sound 1: Found 128; write a whole number from 1",
    ),
    (
        sound("snare", "a.wav", more="up_to = 2.5"),
        "line 4, up_to of sound 1: Found 2.5; write a whole number from 1",
    ),
    (sound("snare", "a.wav", more='gain_db = "1"'), f'line 4, gain_db of sound 1: Found the text "1"; {GAIN}'),
    (
        sound("snare", "a.wav", more='choked_by = ["x"]'),
        'choked_by of sound 1: There is no surface called "x"; use',
    ),
    (
        sound("snare", "a.wav") * 2,
        "line 5, sound 2: snare has two sounds up to velocity 127; name alternates in one list",
    ),
    (
        sound("snare", "a.mp3"),
        'line 3, files of sound 1: "a.mp3" is not a .wav or .flac file; convert it first.',
    ),
    (
        sound("snare", "../a.wav"),
        'files of sound 1: "../a.wav" is outside of the folder; move the file into it.',
    ),
    (
        sound("snare", "/etc/a.wav"),
        'files of sound 1: "/etc/a.wav" is outside of the folder; move the file into',
    ),
    ('[[sound]]\nsurface = "snare"\nfiles = ["a\\u0000.wav"]', "can't be the name of a file."),
    (sound("snare", "a.wav") * 201, "line 801, sound 201: There are 201 sounds; write at most 200."),
    ("a." * 40_000 + "a = 1", "sounds.toml, line 1: Lists, tables and dotted keys are nested 40000 deep"),
]


@pytest.mark.parametrize(("text", "sentence"), MAP_MISTAKES, ids=range(len(MAP_MISTAKES)))
def test_mistakes_in_a_map(tmp_path, text, sentence):
    (tmp_path / MAP).write_text(text)
    with pytest.raises(TableError, match=r"^sounds\.toml") as caught:
        read_folder_map(tmp_path, warn=pytest.fail)
    assert sentence in str(caught.value)


def test_every_mistake_in_a_map_is_reported(tmp_path):
    (tmp_path / MAP).write_text("gain_db = 40\n" + sound("snar", "a.mp3") + sound("kick", more="up_to = 0"))
    with pytest.raises(TableError, match="gain_db") as caught:
        read_folder_map(tmp_path, warn=pytest.fail)
    assert [(mistake.line, mistake.key) for mistake in caught.value.mistakes] == [
        (1, "gain_db"),
        (3, "surface of sound 1"),
        (4, "files of sound 1"),
        (8, "files of sound 2"),
        (9, "up_to of sound 2"),
    ]


def test_a_map_with_a_byte_order_mark_is_read(tmp_path):
    (tmp_path / MAP).write_text("\ufeff" + sound("snare", "a.wav"))
    assert [layer.surface for layer in read_folder_map(tmp_path, warn=pytest.fail)] == ["snare"]


def test_links_that_lead_out_of_the_folder_are_not_followed(tmp_path):
    place = tmp_path / "kit"
    place.mkdir()
    (tmp_path / "secret.wav").write_bytes(b"")
    (place / "link.wav").symlink_to(tmp_path / "secret.wav")
    (place / "up").symlink_to(tmp_path)
    for name in ("link.wav", "up/secret.wav"):
        (place / MAP).write_text(sound("snare", name))
        with pytest.raises(TableError, match=f'files of sound 1: "{name}" is outside of the folder'):
            read_folder_map(place, warn=pytest.fail)


def test_links_in_a_circle(tmp_path):
    (tmp_path / "a.wav").symlink_to(tmp_path / "b.wav")
    (tmp_path / "b.wav").symlink_to(tmp_path / "a.wav")
    (tmp_path / MAP).write_text(sound("snare", "a.wav"))
    with pytest.raises(TableError, match="can't be the name of a file"):
        read_folder_map(tmp_path, warn=pytest.fail)
