"""MusicXML 4.0 for notation programs: a sheet as one partwise score.

Made from the same picture of the page as the engraving. Bars that the page writes as repeats are written out,
so that every program plays them. Hands stand below the notes as the first lyric line, counts as the second.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from xml.etree import ElementTree
from xml.etree.ElementTree import Element, SubElement

from fillwright.music.meter import Meter
from fillwright.music.surfaces import Surface, load_surfaces
from fillwright.music.timing import check_tempo
from fillwright.score.beams import spell_beams
from fillwright.score.export.musicxml_notes import (
    InTuplet,
    VoiceText,
    add_note,
    add_rest,
    clean_text,
    name_instrument,
)
from fillwright.score.sheet import Sheet
from fillwright.score.written import Note, Rest, Tuplet, Voice, WrittenBar

_HEADER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def format_musicxml(sheet: Sheet, *, title: str = "", tempo: float | None = None) -> str:
    """Format a sheet as a MusicXML 4.0 document, the same text every time.

    Args:
        sheet: the phrase and the words around it.
        title: of the work; "" for none.
        tempo: of the metronome mark above the first bar, in the meter's beats a minute; None for the sheet's
            own words, if it has any.

    Raises:
        TempoError: for a tempo that can't be played.
        NotationError: for a rhythm that can't be written.
    """
    if tempo is not None:
        check_tempo(tempo)
    score = Element("score-partwise", {"version": "4.0"})
    if title:
        SubElement(SubElement(score, "work"), "work-title").text = clean_text(title)
    encoding = SubElement(SubElement(score, "identification"), "encoding")
    SubElement(encoding, "software").text = "Fillwright"
    SubElement(encoding, "supports", {"element": "beam", "type": "yes"})
    _add_part_list(score, _find_surfaces(sheet))
    part = SubElement(score, "part", {"id": "P1"})
    for measure in _write_measures(sheet, tempo):
        part.append(measure)
    ElementTree.indent(score)
    return _HEADER + ElementTree.tostring(score, encoding="unicode") + "\n"


def _find_surfaces(sheet: Sheet) -> tuple[Surface, ...]:
    """Find the surfaces of the bars on the sheet, in the order of the table."""
    hits = [hit for bar in sheet.bars() for hit in bar.bar.hits]
    struck = {hit.surface for hit in hits} | {hit.grace_surface for hit in hits}
    return tuple(surface for surface in load_surfaces().values() if surface in struck)


def _add_part_list(score: Element, used: tuple[Surface, ...]) -> None:
    part = SubElement(SubElement(score, "part-list"), "score-part", {"id": "P1"})
    SubElement(part, "part-name").text = "Drum set"
    for surface in used:
        instrument = SubElement(part, "score-instrument", {"id": name_instrument(surface.key)})
        SubElement(instrument, "instrument-name").text = surface.label
    for surface in used:
        sound = SubElement(part, "midi-instrument", {"id": name_instrument(surface.key)})
        SubElement(sound, "midi-channel").text = "10"
        SubElement(sound, "midi-program").text = "1"
        SubElement(sound, "midi-unpitched").text = str(surface.key + 1)


def _write_measures(sheet: Sheet, tempo: float | None) -> Iterator[Element]:
    bars = sheet.bars()
    divisions = _find_divisions(sheet)
    letters = {note.id: hands for note, hands in sheet.stickings()}
    for bar in bars:
        measure = Element("measure", {"number": str(bar.number)})
        if bar.number in sheet.break_before:
            SubElement(measure, "print", {"new-system": "yes"})
        if bar is bars[0]:
            _add_attributes(measure, sheet.phrase.meter, divisions)
            _add_metronome(measure, sheet, tempo)
        hands = VoiceText(
            number=1,
            divisions=divisions,
            beams=spell_beams(bar.hands),
            letters=letters,
            words=sheet.words(bar),
            ties=_find_ties(bar.hands),
        )
        feet = VoiceText(number=2, divisions=divisions, beams=spell_beams(bar.feet), letters={}, words={})
        _add_hands(measure, sheet, bar, hands)
        if any(bar.feet.notes()):
            backup = SubElement(measure, "backup")
            SubElement(backup, "duration").text = feet.duration(sheet.phrase.meter.bar)
            for item, inside in _unfold_tuplets(bar.feet):
                _add_item(measure, bar.feet, item, feet, inside)
        if bar is bars[-1] and sheet.closing == "end":
            SubElement(SubElement(measure, "barline", {"location": "right"}), "bar-style").text = "light-heavy"
        yield measure


def _add_hands(measure: Element, sheet: Sheet, bar: WrittenBar, text: VoiceText) -> None:
    """Add the upper voice, with the fill's words where it starts."""
    start = _find_label(sheet, bar)
    items = list(_unfold_tuplets(bar.hands))
    below = max((item.at for item, _ in items if start is not None and item.at <= start), default=None)
    for item, inside in items:
        if start is not None and item.at == below:
            _add_words(measure, clean_text(sheet.label), text.duration(start - item.at))
        _add_item(measure, bar.hands, item, text, inside)


def _find_ties(voice: Voice) -> dict[str, tuple[str, ...]]:
    """Tie each abbreviated roll to the note that it runs into on the same surface, as the engraving does.

    Drawn alone: the note at the end of a roll is struck, so no sounding tie is written.
    """
    joined = [(roll.id, release.id) for roll, release in voice.tied_rolls()]
    starts, stops = {roll for roll, _ in joined}, {release for _, release in joined}
    return {
        note.id: ("stop",) * (note.id in stops) + ("start",) * (note.id in starts)
        for note in voice.notes()
        if note.id in starts | stops
    }


def _find_label(sheet: Sheet, bar: WrittenBar) -> Fraction | None:
    """Find where the fill starts in a bar; None if it doesn't or has no words."""
    span, length = sheet.phrase.span, sheet.phrase.meter.bar
    if span is None or not sheet.label:
        return None
    start = span.start - (bar.number - 1) * length
    return start if 0 <= start < length else None


def _unfold_tuplets(voice: Voice) -> Iterator[tuple[Note | Rest, InTuplet | None]]:
    for beat in voice.beats:
        for item in beat:
            if not isinstance(item, Tuplet):
                yield item, None
                continue
            for inner in item.items:
                position = "start" if inner is item.items[0] else "stop" if inner is item.items[-1] else ""
                yield inner, InTuplet(tuplet=item, position=position)


def _add_item(
    measure: Element, voice: Voice, item: Note | Rest, text: VoiceText, inside: InTuplet | None
) -> None:
    if isinstance(item, Note):
        add_note(measure, item, text, inside)
    else:
        add_rest(measure, item, text, inside, whole_bar=not any(voice.notes()))


def _find_divisions(sheet: Sheet) -> int:
    """Find divisions of a quarter that make every length on the sheet, and the fill's place, a whole number."""
    voices = [voice for bar in sheet.bars() for voice in (bar.hands, bar.feet)]
    lengths = {item.length for voice in voices for item in voice.items()}
    if sheet.phrase.span:
        lengths.add(sheet.phrase.span.start)
    return math.lcm(*((length * 4).denominator for length in lengths))


def _add_attributes(measure: Element, meter: Meter, divisions: int) -> None:
    attributes = SubElement(measure, "attributes")
    SubElement(attributes, "divisions").text = str(divisions)
    time = SubElement(attributes, "time")
    SubElement(time, "beats").text = str(meter.numerator)
    SubElement(time, "beat-type").text = str(meter.denominator)
    SubElement(SubElement(attributes, "clef"), "sign").text = "percussion"


def _add_metronome(measure: Element, sheet: Sheet, tempo: float | None) -> None:
    """Add the tempo as a number that programs play, or else the sheet's own words."""
    text = sheet.tempo if tempo is None else f"{tempo:g}"
    if not text:
        return
    meter = sheet.phrase.meter
    direction = SubElement(measure, "direction", {"placement": "above"})
    mark = SubElement(SubElement(direction, "direction-type"), "metronome")
    SubElement(mark, "beat-unit").text = "quarter"
    if meter.counts_in_three:
        SubElement(mark, "beat-unit-dot")
    SubElement(mark, "per-minute").text = clean_text(text)
    if tempo is not None:
        SubElement(direction, "sound", {"tempo": f"{tempo * float(meter.tempo_unit * 4):g}"})


def _add_words(measure: Element, label: str, offset: str) -> None:
    direction = SubElement(measure, "direction", {"placement": "above"})
    words = SubElement(SubElement(direction, "direction-type"), "words", {"font-weight": "bold"})
    words.text = label
    if offset != "0":
        SubElement(direction, "offset").text = offset
    SubElement(direction, "voice").text = "1"
