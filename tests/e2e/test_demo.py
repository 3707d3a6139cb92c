"""The demo from end to end: everything is there, and paper, MIDI and MusicXML say the same."""

import hashlib
import json
import re
import shutil
from collections import Counter
from fractions import Fraction
from itertools import groupby

import mido
import pytest
from lxml import etree

from fillwright.cli.main import main
from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.music.stroke import GRACE_VELOCITY
from fillwright.music.timing import time_phrase
from tests.e2e.studio_server import notes_of

FILLS = [fill.number for fill in build_fills(parse_lesson(read_demo_text())).fills]
TICKS_PER_WHOLE_NOTE = 4 * 960


@pytest.fixture(params=FILLS)
def fill(request, demo):
    return demo.fills[request.param - 1]


def written(fill):
    """Main strokes of a phrase: place in whole notes, and key."""
    return Counter((hit.at, hit.surface.key) for hit in fill.phrase.hits())


def midi_notes(path):
    """Tick, key and velocity of every note."""
    file = mido.MidiFile(path)
    assert file.ticks_per_beat * 4 == TICKS_PER_WHOLE_NOTE
    return notes_of(file)


def read_musicxml(path):
    """Main strokes of a score: place in whole notes, and key; and how many grace notes it has."""
    found, graces, start = Counter(), 0, Fraction(0)
    divisions = None
    for measure in etree.parse(path).iter("measure"):
        at = longest = last = Fraction(0)
        for item in measure:
            divisions = (
                int(item.findtext("divisions", divisions or 0)) if item.tag == "attributes" else divisions
            )
            if item.tag not in ("note", "backup", "forward"):
                continue
            if item.find("grace") is not None:
                graces += 1
                continue
            length = Fraction(int(item.findtext("duration")), 4 * divisions)
            if item.tag == "backup":
                at -= length
                continue
            place = last if item.find("chord") is not None else at
            if item.find("instrument") is not None and item.find("tie[@type='stop']") is None:
                found[start + place, int(item.find("instrument").get("id").removeprefix("P1-K"))] += 1
            last, at = place, place + length
            longest = max(longest, at)
        start += longest
    return found, graces


def read_svg(path, bar_length):
    """Places of the main note heads of a drawing, repeated bars played out, and how many grace notes it has."""
    bars, graces = {}, 0
    drawing = etree.parse(path)
    for note in drawing.iterfind(".//{*}g[@class='note']"):
        bar, over, under, rest = re.fullmatch(r"b(\d+)[hf](\d+)-(\d+)(.*)", note.get("id")).groups()
        if rest.startswith("g"):
            graces += 1
        else:
            bars.setdefault(int(bar), []).append(Fraction(int(over), int(under)))
    repeats = len(drawing.findall(".//{*}g[@class='mRpt']"))
    last = max(bars)
    empty = [bar for bar in range(1, last + 1) if bar not in bars]
    assert len(empty) == repeats
    for bar in empty:
        bars[bar] = bars[bar - 1]
    return Counter((bar - 1) * bar_length + at for bar, places in bars.items() for at in places), graces


class TestContents:
    def test_every_listed_file_is_there_with_its_digest(self, demo):
        listed = json.loads((demo.folder / "pack.json").read_text("utf-8"))["files"]
        for name, row in listed.items():
            content = (demo.folder / name).read_bytes()
            assert content, name
            assert hashlib.sha256(content).hexdigest() == row["sha256"], name
        there = {path.relative_to(demo.folder).as_posix() for path in demo.folder.rglob("*") if path.is_file()}
        assert there == {*listed, "pack.json"}

    def test_every_fill_has_notation_midi_and_audio_at_every_tempo(self, demo, fill):
        for ending in ("svg", "pdf", "png", "musicxml", "mid", *(f"{t:03d}.mp3" for t in fill.ladder)):
            assert demo.file(fill, ending).stat().st_size > 500

    def test_no_fill_has_audio_above_its_ceiling(self, demo, fill):
        made = {path.stem[-3:] for path in demo.file(fill, "mid").parent.glob("*.mp3")}
        assert made == {f"{t:03d}" for t in demo.lesson.tempo if t <= fill.step.route.ceiling_bpm}

    def test_every_fill_that_leaves_the_snare_has_its_kit_plan(self, demo, fill):
        plan = demo.file(fill, "mid").with_name(f"{fill.slug}-plan.svg")
        struck = {hit.surface.name for hit in fill.step.fill.hits}
        assert plan.exists() == (struck != {"snare"})
        if plan.exists():
            assert {title.text for title in etree.parse(plan).iter("{*}title")} == struck

    def test_a_second_build_makes_nothing(self, demo, tmp_path, capsys):
        copy = tmp_path / "copy"  # other workers read the pack meanwhile
        shutil.copytree(demo.folder, copy)
        assert main(["demo", "-o", str(copy), "--json"]) == 0
        report = json.loads(capsys.readouterr().out)
        assert (report["made"], report["dropped"], report["left_out"]) == ([], [], [])
        plans = sum(len({hit.surface for hit in fill.step.fill.hits}) > 1 for fill in demo.fills)
        assert len(report["kept"]) == 6 + plans + sum(5 + len(fill.ladder) for fill in demo.fills)

    def test_nothing_stands_beside_it(self, demo):
        assert {path.name for path in demo.folder.parent.iterdir()} <= {"pack", "lock", "done"}


class TestTeaching:
    def test_fills_of_a_figure_go_from_easy_to_hard(self, demo):
        for _, group in groupby(demo.fills, key=lambda fill: fill.part):
            grades = [fill.step.route.grade for fill in group]
            assert grades == sorted(grades)
            assert len(set(grades)) > 1


class TestAgreement:
    def test_midi_has_every_main_stroke_at_its_tick(self, demo, fill):
        notes = midi_notes(demo.file(fill, "mid"))
        mains = sorted((key, tick) for tick, key, velocity in notes if velocity != GRACE_VELOCITY)
        wanted = sorted((key, at * TICKS_PER_WHOLE_NOTE) for at, key in written(fill).elements())
        assert [key for key, _ in mains] == [key for key, _ in wanted]
        for (_, tick), (_, exact) in zip(mains, wanted, strict=True):
            assert abs(tick - exact) <= 1

    def test_midi_has_every_grace_note_at_its_time(self, demo, fill):
        tempo = demo.lesson.tempo[0]
        file = mido.MidiFile(demo.file(fill, "mid"))
        now, found = 0.0, []
        for message in file:
            now += message.time
            if message.type == "note_on" and message.velocity == GRACE_VELOCITY:
                found.append(now)
        graces = [
            at for timed in time_phrase(fill.phrase, tempo, demo.lesson.feel) for at in timed.grace_seconds
        ]
        assert found == pytest.approx(sorted(graces), abs=0.0006)

    def test_musicxml_has_every_main_stroke_at_its_place(self, demo, fill):
        found, graces = read_musicxml(demo.file(fill, "musicxml"))
        assert found == written(fill)
        assert graces == sum(hit.stroke.kind.graces for hit in fill.phrase.hits())

    def test_the_drawing_has_every_main_stroke_at_its_place(self, demo, fill):
        found, graces = read_svg(demo.file(fill, "svg"), fill.phrase.meter.bar)
        assert found == Counter(at for at, _ in written(fill).elements())
        assert graces == sum(hit.stroke.kind.graces for hit in fill.phrase.hits())
