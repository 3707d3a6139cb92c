"""Lesson files and tables that older versions wrote: they still read, and give what those versions gave.

`lessons/expected.json` was written by the version before the packages were arranged by feature.
For each fill it has name, grade, top tempo, ladder and a hash of every hit.
"""

import hashlib
import json
from pathlib import Path

import pytest

from fillwright.cli.main import main
from fillwright.lesson.file import read_lesson
from fillwright.lesson.fills import build_fills
from fillwright.tables.midi_notes import read_midi_notes
from fillwright.tables.sounds import read_folder_map, read_soundfont_notes

LESSONS = Path(__file__).with_name("lessons")
EXPECTED = json.loads((LESSONS / "expected.json").read_text("utf-8"))


def hash_hits(phrase):
    rows = [
        f"{hit.at} {hit.length} {hit.stroke.hand.value} {hit.stroke.kind.value} {hit.stroke.level.value} "
        f"{hit.surface.name}"
        for hit in phrase.hits()
    ]
    return hashlib.sha256("\n".join(rows).encode()).hexdigest()[:16]


@pytest.mark.parametrize("name", ["demo.toml", "own-tables.toml"])
def test_old_lessons_give_the_same_fills(name):
    expected = EXPECTED[name]
    lesson = read_lesson(LESSONS / name)
    built = build_fills(lesson)
    fills = [
        [fill.slug, fill.step.route.grade, fill.ceiling, list(fill.ladder), hash_hits(fill.phrase)]
        for fill in built.fills
    ]
    assert fills == expected["fills"]
    assert len(built.left_out) == expected["skipped"]
    assert lesson.goal == expected["goal"]


def test_one_note_says_that_the_goal_was_renamed():
    assert read_lesson(LESSONS / "own-tables.toml").notes_on_file == (
        'own-tables.toml, line 5: "purpose" is now called "goal"; the old name still works.',
    )


def test_an_old_table_of_midi_notes_reads_the_same():
    notes = []
    read = read_midi_notes(LESSONS / "pads.toml", warn=notes.append)
    expected = EXPECTED["pads.toml"]
    assert {str(note): name for note, name in read.notes.items()} == expected["written"]
    assert {str(note): read.find(note, recorded=True) for note in range(128)} == expected["recorded"]
    assert notes == ['pads.toml, line 2: "keys" is now called "midi_notes"; the old name still works.']


def test_an_old_table_of_a_soundfont_reads_the_same():
    notes = []
    read = read_soundfont_notes(LESSONS / "sound-keys.toml", warn=notes.append)
    assert {"bank": read.bank, "program": read.program, "notes": dict(read.notes)} == EXPECTED[
        "sound-keys.toml"
    ]
    assert notes == ['sound-keys.toml, line 5: "keys" is now called "midi_notes"; the old name still works.']


def test_an_old_map_of_sounds_reads_the_same():
    folder = LESSONS / "sounds"
    layers = [
        {
            "surface": layer.surface,
            "up_to": layer.up_to,
            "files": [file.relative_to(folder.resolve()).as_posix() for file in layer.files],
            "gain_db": layer.gain_db,
            "choked_by": sorted(layer.choked_by),
        }
        for layer in read_folder_map(folder, warn=pytest.fail)
    ]
    assert layers == EXPECTED["sounds.toml"]


def test_the_note_goes_to_the_error_output(tmp_path, capsys):
    text = (
        'number = 1\ntitle = "One"\npurpose = "Even taps."\ntempo = 60\naudio = "wav"\n'
        '[[figure]]\nname = "single paradiddle"\nsteps = ["last beat"]\n'
    )
    (tmp_path / "a.toml").write_text(text)
    assert main(["lesson", str(tmp_path / "a.toml"), "-o", str(tmp_path / "pack")]) == 0
    printed = capsys.readouterr()
    assert printed.err.count("\n") == 1
    assert 'a.toml, line 3: "purpose" is now called "goal"; the old name still works.' in printed.err
    assert "purpose" not in printed.out
