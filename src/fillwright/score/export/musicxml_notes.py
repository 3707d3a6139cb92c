"""The notes and rests of MusicXML, one element each, children in the order the schema asks for."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from fillwright.music.hit import Hit
from fillwright.music.stroke import GRACE_VELOCITY, Kind, Level
from fillwright.score.sheet import spell_graces
from fillwright.score.written import Note, Rest, Tuplet

# Names of note values, by denominator (MusicXML 4.0, note-type-value).
_TYPES = {
    1: "whole",
    2: "half",
    4: "quarter",
    8: "eighth",
    16: "16th",
    32: "32nd",
    64: "64th",
    128: "128th",
}
_STEPS = "CDEFGAB"
_BOTTOM_LINE = 4 * 7 + _STEPS.index("E")
"""Steps of the bottom line above C0: the percussion clef counts lines as the treble clef does, E4 upwards."""

_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters an XML 1.0 document can't hold (XML 1.0, production 2)."""

_REST_LOC = 5  # staff position of a rest, 0 for the bottom line (ours)
_FORTE = 90
"""The velocity that MusicXML counts as 100 % of its loudness (MusicXML 4.0, attribute dynamics of note)."""

STICKING, COUNT = ("1", "sticking"), ("2", "count")
"""Number and name of the lyric lines: MusicXML has no element for the hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VoiceText:
    """The beams, letters and counts of one voice of a bar.

    Attributes:
        number: 1 for the hands, 2 for the feet.
        divisions: of a quarter.
        beams: of each note, by its id.
        letters: hands below each note, by its id.
        words: counts below each note, by its place in the bar.
        ties: "stop" and "start" of the ties of each note, by its id.
    """

    number: int
    divisions: int
    beams: dict[str, tuple[str, ...]]
    letters: dict[str, str]
    words: dict[Fraction, str]
    ties: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def stem(self) -> str:
        """Direction of its stems."""
        return "up" if self.number == 1 else "down"

    def duration(self, length: Fraction) -> str:
        """Convert a length in whole notes to divisions."""
        return str(int(length * 4 * self.divisions))


@dataclass(frozen=True, slots=True, kw_only=True)
class InTuplet:
    """A tuplet as one of its items needs it; its position is "start", "stop" or "" inside."""

    tuplet: Tuplet
    position: str


def add_rest(
    parent: Element, rest: Rest, voice: VoiceText, inside: InTuplet | None, *, whole_bar: bool
) -> None:
    """Add a rest, kept out of sight where it only holds the place."""
    element = SubElement(parent, "note", {"print-object": "no"} if rest.hidden else {})
    symbol = SubElement(element, "rest", {"measure": "yes"} if whole_bar else {})
    if not rest.hidden:
        _add_display(symbol, _REST_LOC)
    _add_text(element, "duration", voice.duration(rest.length))
    _add_text(element, "voice", str(voice.number))
    if not whole_bar:
        _add_value(element, rest.value, rest.dots, inside)
    if inside and inside.position:
        _mark_tuplet(SubElement(element, "notations"), inside, voice)


def add_note(parent: Element, note: Note, voice: VoiceText, inside: InTuplet | None) -> None:
    """Add a note with its grace notes before it; heads struck together share one stem."""
    for element in _write_graces(note, voice):
        parent.append(element)
    for hit in note.hits:
        first = hit is note.hits[0]
        element = SubElement(parent, "note", {"dynamics": _format_dynamics(hit.stroke.level.velocity)})
        if not first:
            SubElement(element, "chord")
        _add_unpitched(element, hit.surface.loc)
        _add_text(element, "duration", voice.duration(note.length))
        SubElement(element, "instrument", {"id": name_instrument(hit.surface.key)})
        _add_text(element, "voice", str(voice.number))
        _add_value(element, note.value, note.dots, inside)
        _add_text(element, "stem", voice.stem)
        _add_head(element, hit, ghost=hit.stroke.level is Level.GHOST)
        if first:
            _add_beams(element, voice.beams.get(note.id, ()))
            _add_notations(element, note, voice, inside)
            _add_lyric(element, STICKING, voice.letters.get(note.id, ""))
            _add_lyric(element, COUNT, voice.words.get(note.at, ""))


def name_instrument(key: int) -> str:
    """Return the id of the sound of a General MIDI note."""
    return f"P1-K{key}"


def clean_text(text: str) -> str:
    """Return a text with a replacement character for each character that XML can't hold."""
    return _NOT_IN_XML.sub("\N{REPLACEMENT CHARACTER}", text)


def _write_graces(note: Note, voice: VoiceText) -> Iterator[Element]:
    hit = next((hit for hit in note.hits if hit.stroke.kind.graces), None)
    if hit is None:
        return
    letters = spell_graces(note) if note.id in voice.letters else ("",) * hit.stroke.kind.graces
    alone = len(letters) == 1
    for i, letter in enumerate(letters):
        element = Element("note", {"dynamics": _format_dynamics(GRACE_VELOCITY)})
        SubElement(element, "grace", {"slash": "yes" if alone else "no"})
        _add_unpitched(element, hit.grace_surface.loc)
        SubElement(element, "instrument", {"id": name_instrument(hit.grace_surface.key)})
        _add_text(element, "voice", str(voice.number))
        _add_text(element, "type", _TYPES[8 if alone else 16])
        _add_text(element, "stem", voice.stem)
        _add_head(element, replace(hit, surface=hit.grace_surface), ghost=False)
        if not alone:
            _add_beams(element, ("end" if i else "begin",) * 2)
        if i == 0:
            notations = SubElement(element, "notations")
            SubElement(notations, "slur", {"type": "start", "number": "1", "placement": "below"})
        _add_lyric(element, STICKING, letter)
        yield element


def _add_notations(element: Element, note: Note, voice: VoiceText, inside: InTuplet | None) -> None:
    notations = Element("notations")
    for kind in voice.ties.get(note.id, ()):
        SubElement(notations, "tied", {"type": kind})
    if any(hit.stroke.kind.graces for hit in note.hits):
        SubElement(notations, "slur", {"type": "stop", "number": "1"})
    if inside and inside.position:
        _mark_tuplet(notations, inside, voice)
    if note.slashes:
        _add_text(SubElement(notations, "ornaments"), "tremolo", str(note.slashes)).set("type", "single")
    elif any(hit.stroke.kind is Kind.BUZZ for hit in note.hits):
        _add_text(SubElement(notations, "ornaments"), "tremolo", "0").set("type", "unmeasured")
    if any(hit.surface.mark == "open" for hit in note.hits):
        SubElement(SubElement(notations, "technical"), "open", {"placement": "above"})
    if any(hit.stroke.level is Level.ACCENT for hit in note.hits):
        SubElement(SubElement(notations, "articulations"), "accent", {"placement": "above"})
    if len(notations):
        element.append(notations)


def _mark_tuplet(notations: Element, inside: InTuplet, voice: VoiceText) -> None:
    """Mark where a tuplet starts and stops; the feet leave its number to the hands."""
    mark = SubElement(notations, "tuplet", {"type": inside.position, "number": "1"})
    if inside.position == "start":
        shown = inside.tuplet.number and voice.number == 1
        mark.set("bracket", "yes" if shown and inside.tuplet.bracket else "no")
        mark.set("show-number", "actual" if shown else "none")
        mark.set("placement", "above")


def _add_value(element: Element, value: int, dots: int, inside: InTuplet | None) -> None:
    _add_text(element, "type", _TYPES[value])
    for _ in range(dots):
        SubElement(element, "dot")
    if inside:
        ratio = SubElement(element, "time-modification")
        _add_text(ratio, "actual-notes", str(inside.tuplet.actual))
        _add_text(ratio, "normal-notes", str(inside.tuplet.normal))
        if (value, dots) != (inside.tuplet.value, 0):
            _add_text(ratio, "normal-type", _TYPES[inside.tuplet.value])


def _add_unpitched(element: Element, loc: int) -> None:
    _add_display(SubElement(element, "unpitched"), loc)


def _add_display(element: Element, loc: int) -> None:
    """Write a staff position as step and octave of the treble clef."""
    octave, step = divmod(_BOTTOM_LINE + loc, 7)
    _add_text(element, "display-step", _STEPS[step])
    _add_text(element, "display-octave", str(octave))


def _add_head(element: Element, hit: Hit, *, ghost: bool) -> None:
    if hit.surface.head or ghost:
        head = _add_text(element, "notehead", hit.surface.head or "normal")
        if ghost:
            head.set("parentheses", "yes")


def _add_beams(element: Element, words: tuple[str, ...]) -> None:
    for level, word in enumerate(words, start=1):
        _add_text(element, "beam", word).set("number", str(level))


def _add_lyric(element: Element, line: tuple[str, str], word: str) -> None:
    if word:
        lyric = SubElement(element, "lyric", {"number": line[0], "name": line[1], "placement": "below"})
        _add_text(lyric, "syllabic", "single")
        _add_text(lyric, "text", clean_text(word))


def _format_dynamics(velocity: int) -> str:
    return f"{100 * velocity / _FORTE:.2f}"


def _add_text(parent: Element, tag: str, text: str) -> Element:
    element = SubElement(parent, tag)
    element.text = text
    return element
