"""MusicXML files against the schema, and as music21 reads them.

What music21 finds is held against the phrase itself, not against the writer's picture of the page. It reads no
open hi-hat, so that mark is looked for in the file.

Source: W3C Music Notation Community Group, MusicXML 4.0 schema (the copy that the package musicxml ships)
Source: music21
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import music21
import musicxml as schema_package
import pytest
from lxml import etree

from fillwright.music.grooves import Groove, load_grooves
from fillwright.music.hit import Hit
from fillwright.music.phrase import Phrase, build_landing, build_phrase
from fillwright.music.rudiments import load_rudiments
from fillwright.music.stroke import Kind, Level, Limb
from fillwright.score.export.musicxml import format_musicxml
from fillwright.score.sheet import Sheet
from tests.needs import need

NAMES = [figure.name for figure in load_rudiments()]
XSD = Path(schema_package.__file__).parent / "generate_classes"
STAFF = "D4 E4 F4 G4 A4 B4 C5 D5 E5 F5 G5 A5 B5".split()
"""Lines and spaces of a staff read as the treble clef does, from the space below it: the MusicXML schema gives
unpitched notes their place that way. The bottom line is E4."""

IMPORTED = {
    "xml": ("http://www.w3.org/XML/1998/namespace", ("lang", "space")),
    "xlink": ("http://www.w3.org/1999/xlink", ("href", "type", "role", "title", "show", "actuate")),
}
"""Attributes of other namespaces the schema names; we write none, and the package has no schema for them."""

Found = tuple[Fraction, Fraction, tuple[str, ...], tuple[str, ...], tuple[bool, ...]]
"""Onset and length in whole notes; from the lowest head up, its staff position, shape and brackets."""


@pytest.fixture(scope="module")
def schema(tmp_path_factory: pytest.TempPathFactory) -> etree.XMLSchema:
    """The MusicXML schema with the two it imports beside it, so that nothing is fetched."""
    need((XSD / "musicxml_4_0.xsd").exists(), "a package musicxml with the schema of MusicXML 4.0")
    folder = tmp_path_factory.mktemp("xsd")
    text = (XSD / "musicxml_4_0.xsd").read_text("utf-8")
    (folder / "musicxml.xsd").write_text(text.replace("http://www.musicxml.org/xsd/", ""), "utf-8")
    for name, (namespace, attributes) in IMPORTED.items():
        declared = "".join(f'<xs:attribute name="{attribute}" type="xs:string"/>' for attribute in attributes)
        (folder / f"{name}.xsd").write_text(
            f'<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{namespace}">'
            f"{declared}</xs:schema>",
            "utf-8",
        )
    return etree.XMLSchema(etree.parse(folder / "musicxml.xsd", etree.XMLParser(no_network=True)))


def parse(text: str) -> etree._Element:
    return etree.fromstring(text.encode("utf-8"), etree.XMLParser(no_network=True, load_dtd=False))


def read(text: str) -> music21.stream.Score:
    return music21.converter.parseData(text, format="musicxml")


def heads(hits: list[Hit]) -> tuple[tuple[str, ...], tuple[str, ...], tuple[bool, ...]]:
    lowest_first = sorted(hits, key=lambda hit: hit.surface.loc)
    return (
        tuple(STAFF[hit.surface.loc + 1] for hit in lowest_first),
        tuple(hit.surface.head or "normal" for hit in lowest_first),
        tuple(hit.stroke.level is Level.GHOST for hit in lowest_first),
    )


def at_once(music: Phrase, *, feet: bool) -> dict[Fraction, list[Hit]]:
    """Return the hits of hands or of feet by their place in the phrase."""
    by_place: dict[Fraction, list[Hit]] = {}
    for hit in music.hits():
        if hit.stroke.hand.is_foot == feet:
            by_place.setdefault(hit.at, []).append(hit)
    return dict(sorted(by_place.items()))


def list_played(music: Phrase, *, feet: bool) -> list[Found]:
    """Return what the phrase says: a note lasts as long as its stroke, up to the next or its beat's end."""
    by_place = at_once(music, feet=feet)
    beats = [
        bar * music.meter.bar + start + length
        for bar in range(len(music.bars))
        for start, length in zip(music.meter.beat_starts, music.meter.beats, strict=True)
    ]
    notes = []
    for at, hits in by_place.items():
        longest = max(hit.length for hit in hits)
        end = min([at + longest, *[b for b in beats if b > at][:1], *[p for p in by_place if p > at][:1]])
        notes.append((at, end - at, *heads(hits)))
    return notes


def bar_length(quarters: object) -> Fraction:
    return (Fraction(quarters) / 4).limit_denominator(4096)  # type: ignore[arg-type]


def heads_of(note: music21.note.GeneralNote) -> list[music21.note.Unpitched]:
    inner = list(note.notes) if isinstance(note, music21.percussion.PercussionChord) else [note]
    return sorted(inner, key=lambda head: (head.displayOctave, "CDEFGAB".index(head.displayStep)))


def as_read(score: music21.stream.Score, stem: str) -> list[Found]:
    """Return the notes with stems that way as music21 places them."""
    notes = []
    for measure in score.parts[0].getElementsByClass(music21.stream.Measure):
        for note in measure.recurse().notes:
            if note.duration.isGrace or heads_of(note)[0].stemDirection != stem:
                continue
            inner = heads_of(note)
            at = bar_length(measure.offset) + bar_length(note.getOffsetInHierarchy(measure))
            places = tuple(f"{head.displayStep}{head.displayOctave}" for head in inner)
            shapes = tuple(head.notehead for head in inner)
            brackets = tuple(bool(head.noteheadParenthesis) for head in inner)
            notes.append((at, bar_length(note.duration.quarterLength), places, shapes, brackets))
    return sorted(notes)


def graces_read(score: music21.stream.Score) -> list[tuple[Fraction, str, str]]:
    """Return grace notes with the place of the note they lead to, their staff position and note value."""
    return sorted(
        (
            bar_length(measure.offset) + bar_length(note.getOffsetInHierarchy(measure)),
            f"{note.displayStep}{note.displayOctave}",
            note.duration.type,
        )
        for measure in score.parts[0].getElementsByClass(music21.stream.Measure)
        for note in measure.recurse().notes
        if note.duration.isGrace
    )


def graces_of(music: Phrase) -> list[tuple[Fraction, str, str]]:
    """Check that a flam has one eighth before it, a drag two sixteenths, on the drum of the main note."""
    value = {Kind.FLAM: "eighth", Kind.DRAG: "16th"}
    return sorted(
        (hit.at, STAFF[hit.grace_surface.loc + 1], value[hit.stroke.kind])
        for hit in music.hits()
        for _ in range(hit.stroke.kind.graces)
    )


def places_with(score: music21.stream.Score, sign: Callable[[music21.note.GeneralNote], bool]) -> set[Fraction]:
    return {
        bar_length(measure.offset) + bar_length(note.getOffsetInHierarchy(measure))
        for measure in score.parts[0].getElementsByClass(music21.stream.Measure)
        for note in measure.recurse().notes
        if sign(note)
    }


def is_accented(note: music21.note.GeneralNote) -> bool:
    return any(isinstance(mark, music21.articulations.Accent) for mark in note.articulations)


def is_buzzed(note: music21.note.GeneralNote) -> bool:
    return any(isinstance(mark, music21.expressions.Tremolo) for mark in note.expressions)


def assert_reads_as_played(text: str, music: Phrase) -> None:
    score = read(text)
    assert as_read(score, "up") == list_played(music, feet=False)
    assert as_read(score, "down") == list_played(music, feet=True)
    assert graces_read(score) == graces_of(music)
    hits = list(music.hits())
    assert places_with(score, is_accented) == {h.at for h in hits if h.stroke.level is Level.ACCENT}
    assert places_with(score, is_buzzed) == {h.at for h in hits if h.stroke.kind is Kind.BUZZ}
    for measure in score.parts[0].getElementsByClass(music21.stream.Measure):
        assert bar_length(measure.barDuration.quarterLength) == music.meter.bar
        for voice in [*measure.voices] or [measure]:
            assert bar_length(
                sum(Fraction(n.quarterLength).limit_denominator(4096) for n in voice.notesAndRests)
            ) == (music.meter.bar)


@pytest.mark.parametrize("name", NAMES)
def test_music21_reads_what_is_played(name: str, phrases_of: Callable[[str], tuple[Phrase, ...]]) -> None:
    phrases = phrases_of(name)
    assert phrases
    for music in phrases[:: 2 if len(phrases) > 20 else 1]:
        assert_reads_as_played(format_musicxml(Sheet(phrase=music, label="Fill")), music)


@pytest.mark.parametrize("name", NAMES)
def test_files_follow_the_schema(
    name: str, phrases_of: Callable[[str], tuple[Phrase, ...]], schema: etree.XMLSchema
) -> None:
    for turn, music in enumerate(phrases_of(name)[::3]):
        rolls = bool(turn % 2)
        sheet = Sheet(phrase=music, label="Fill", tempo="60–100", short_rolls=rolls, break_before=(2,))
        text = format_musicxml(sheet, title=f"{name} & <more>", tempo=90.5 if rolls else None)
        schema.assertValid(parse(text))


@pytest.mark.parametrize("groove", load_grooves(), ids=lambda groove: groove.name)
def test_repeated_bars_are_written_out(groove: Groove, schema: etree.XMLSchema) -> None:
    music = build_phrase(groove, None, bars=4, land=build_landing(groove.meter, Limb.LEFT, ("crash", "kick")))
    sheet = Sheet(phrase=music)
    assert any(bar.repeats for bar in sheet.bars())
    text = format_musicxml(sheet, tempo=100)
    schema.assertValid(parse(text))
    assert_reads_as_played(text, music)
    opened = [hit for hit in music.hits() if hit.surface.mark == "open"]
    assert len(parse(text).findall(".//technical/open")) == len(opened)


def test_the_schema_refuses_what_is_out_of_order(schema: etree.XMLSchema) -> None:
    root = parse(format_musicxml(Sheet(phrase=build_phrase(load_grooves()[0], None, bars=1))))
    assert schema.validate(root)
    note = root.find(".//note")
    note.append(note.find("unpitched"))
    assert not schema.validate(root)


@pytest.mark.parametrize("groove", load_grooves(), ids=lambda groove: groove.name)
def test_sounds_and_tempo_are_read(groove: Groove) -> None:
    music = build_phrase(groove, None, bars=1)
    text = format_musicxml(Sheet(phrase=music), tempo=84)
    marks = list(read(text).recurse().getElementsByClass(music21.tempo.MetronomeMark))
    assert [mark.number for mark in marks] == [84]
    assert bar_length(marks[0].referent.quarterLength) == groove.meter.tempo_unit
    assert [m.ratioString for m in read(text).recurse().getElementsByClass(music21.meter.TimeSignature)] == [
        groove.meter.name
    ]
    # MusicXML counts MIDI keys from 1 (documentation of midi-unpitched in the schema).
    keys = {int(sound.text) - 1 for sound in parse(text).findall(".//midi-unpitched")}
    assert keys == {hit.surface.key for hit in groove.hits}
