import pytest

from fillwright.errors import FillwrightError, TempoError
from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.listen.written import write_phrase
from fillwright.pack.contents import list_recipes
from fillwright.pack.phrase_file import FILLS_FILE
from fillwright.score.export.midi import encode_midi
from fillwright.score.parts.midi_notes import get_default_notes
from fillwright.take.reference import find_reference

TEXT = """number = 3
title = "Small"
tempo = [60, 80, 100]
bars = 2

[[figure]]
name = "single paradiddle"
steps = ["last beat", "whole bar"]

[[figure]]
name = "flam accent"
groove = "shuffle"
steps = ["last two beats"]
"""
SLUGS = ("01-single-paradiddle-last-beat", "02-single-paradiddle-whole-bar", "03-flam-accent-last-2-beats")


@pytest.fixture(scope="module")
def fills():
    return build_fills(parse_lesson(TEXT)).fills


@pytest.fixture
def pack(tmp_path, fills):
    """A pack with the files that matter here; its audio is empty."""
    lesson = parse_lesson(TEXT)
    folder = tmp_path / "pack"
    assert tuple(fill.slug for fill in fills) == SLUGS
    for fill in fills:
        place = folder / "fills" / fill.slug
        place.mkdir(parents=True)
        for tempo in fill.ladder:
            (place / f"{fill.slug}-{tempo:03d}.mp3").touch()
        (place / f"{fill.slug}.mid").write_bytes(encode_midi(fill.phrase, 60))
    (listed,) = [one.make()[0] for one in list_recipes(lesson, fills, "") if one.paths == (FILLS_FILE,)]
    (folder / FILLS_FILE).write_bytes(listed)
    (folder / "pack.json").write_text("{}", "utf-8")
    (folder / "handout.pdf").touch()
    return folder


def find(what, **how):
    return find_reference(what, get_default_notes(), **how)


def file(pack, number, ending):
    return pack / "fills" / SLUGS[number - 1] / f"{SLUGS[number - 1]}{ending}"


@pytest.mark.parametrize(("ending", "tempo"), [("-080.mp3", 80), ("-100.mp3", 100), (".mid", 60)])
def test_any_file_of_a_fill_names_it_and_its_tempo(pack, fills, ending, tempo):
    found = find(file(pack, 2, ending))
    assert found.title == fills[1].title
    assert found.fill.number == 2
    assert found.ladder == (60, 80, 100)
    assert found.expected == write_phrase(fills[1].phrase, float(tempo))


def test_the_folder_of_a_fill_names_it_at_its_slowest(pack):
    found = find(pack / "fills" / SLUGS[2])
    assert (found.fill.number, found.expected.tempo) == (3, 60)


def test_a_pack_with_a_number(pack):
    assert find(pack, fill=2).fill.number == 2
    assert find(pack / "handout.pdf", fill=3).fill.number == 3


def test_a_given_tempo_comes_first(pack):
    assert find(file(pack, 1, "-100.mp3"), tempo=72.0).expected.tempo == 72


def test_a_midi_file_outside_a_pack_is_read_as_written(tmp_path, fills):
    path = tmp_path / "mine.mid"
    path.write_bytes(encode_midi(fills[1].phrase, 90))
    found = find(path)
    assert (found.title, found.fill, found.ladder) == ("mine", None, ())
    assert found.expected.tempo == pytest.approx(90, abs=0.001)
    wanted = write_phrase(fills[1].phrase, 90.0)
    assert [s.surface for s in found.expected.strokes] == [s.surface for s in wanted.strokes]
    assert [s.seconds for s in found.expected.strokes] == pytest.approx(
        [s.seconds for s in wanted.strokes], abs=0.001
    )
    assert {(stroke.surface, stroke.hand) for stroke in found.expected.strokes} == {
        ("hi-hat", ""),
        ("snare", ""),
        ("crash", ""),
        ("kick", "right foot"),
    }


def test_a_midi_file_at_another_tempo(tmp_path, fills):
    path = tmp_path / "mine.mid"
    path.write_bytes(encode_midi(fills[0].phrase, 90))
    found = find(path, tempo=45.0).expected
    assert found.tempo == 45
    assert found.bar_starts[1] == pytest.approx(4 * 60 / 45, abs=0.001)


class TestRefused:
    @pytest.mark.parametrize(
        ("make", "how", "message"),
        [
            (lambda pack: pack / "nowhere.mid", {}, "does not exist"),
            (lambda pack: pack, {}, "has more than one fill. Choose one with --fill 1 to 3"),
            (lambda pack: pack, {"fill": 9}, "has no fill 9. Choose one with --fill 1 to 3"),
            (lambda pack: file(pack, 1, ".mid"), {"fill": 2}, "belongs to fill 1, not to fill 2"),
            (lambda pack: pack.parent, {}, "is not a pack: it has no pack.json"),
        ],
    )
    def test_in_a_sentence(self, pack, make, how, message):
        with pytest.raises(FillwrightError, match=message):
            find(make(pack), **how)

    def test_a_tempo_that_can_not_be_played(self, pack):
        with pytest.raises(TempoError, match="A tempo of 900 bpm can't be played"):
            find(file(pack, 1, ".mid"), tempo=900.0)

    def test_a_file_that_is_neither(self, tmp_path):
        path = tmp_path / "notes.txt"
        path.write_text("R L R R", "utf-8")
        with pytest.raises(FillwrightError, match="is neither in a pack nor a MIDI file"):
            find(path)

    def test_a_fill_of_a_midi_file(self, tmp_path, fills):
        path = tmp_path / "mine.mid"
        path.write_bytes(encode_midi(fills[0].phrase, 90))
        with pytest.raises(FillwrightError, match=r"is a MIDI file, not a pack\. Leave --fill out"):
            find(path, fill=1)

    def test_a_pack_of_an_earlier_version(self, pack):
        (pack / FILLS_FILE).unlink()
        with pytest.raises(FillwrightError, match=r"has no fills\.json; build it again"):
            find(pack, fill=1)

    def test_a_damaged_list(self, pack):
        (pack / FILLS_FILE).write_text("[]", "utf-8")
        with pytest.raises(FillwrightError, match="is not the list of fills of a pack"):
            find(pack, fill=1)
