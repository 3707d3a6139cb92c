"""MEI for the engraver, made from checked values only.

Text is escaped, numbers are our own: nothing that a user wrote reaches the engraver raw, since bad MEI can
abort or hang the whole process. The order of elements follows what the engraver sets well: a grace note that
opens a beam comes before the beam, a rest that opens one is outside.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction
from xml.sax.saxutils import escape

from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.stroke import Kind, Level, Stroke
from fillwright.score.beams import split_beams
from fillwright.score.sheet import Sheet, spell_graces
from fillwright.score.written import Item, Note, Rest, Tuplet, Voice, WrittenBar

_HEADS = {"x": "x", "diamond": "diamond", "circle-x": "#xE0B3"}
_NOTE_GLYPHS = {Fraction(1, 4): "&#xECA5;", Fraction(3, 8): "&#xECA5;&#x2009;&#xECB7;"}
_REST_LOC, _RAISED_REST_LOC = 5, 7  # staff positions of the hands' rests, 0 for the bottom line (ours)
_TEMPO_PAD = "&#160;" * 3  # spaces after the tempo, so that no beam is set next to it (ours, not measured)
_STEM = {"h": "up", "f": "down"}


def write_mei(sheet: Sheet, *, roomy: bool = True) -> str:
    """Write the sheet as one MEI document.

    Args:
        sheet: what is written.
        roomy: True to give the counting line as much room as its widest word needs.
    """
    meter = sheet.phrase.meter
    bars = sheet.bars()
    measures = []
    for bar in bars:
        if bar.number in sheet.break_before:
            measures.append("<sb/>")
        measures.append(_write_measure(sheet, bar, last=bar is bars[-1], first=bar is bars[0], roomy=roomy))
    meter_signs = f' meter.count="{meter.numerator}" meter.unit="{meter.denominator}"'
    return wrap_document("".join(measures), meter_signs)


def wrap_document(measures: str, meter_signs: str = "") -> str:
    """Wrap measures of one five-line percussion staff as a whole document."""
    return (
        '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.1"><meiHead><fileDesc>'
        "<titleStmt><title/></titleStmt><pubStmt/></fileDesc></meiHead><music><body><mdiv><score>"
        f'<scoreDef mnum.visible="false"{meter_signs}><staffGrp>'
        '<staffDef n="1" lines="5" clef.shape="perc"/></staffGrp></scoreDef>'
        f"<section>{measures}</section></score></mdiv></body></music></mei>"
    )


def _write_measure(sheet: Sheet, bar: WrittenBar, *, last: bool, first: bool, roomy: bool) -> str:
    right = ' right="end"' if last and sheet.closing == "end" else ""
    if sheet.is_repeat(bar):
        return (
            f'<measure n="{bar.number}"{right}><staff n="1"><layer n="1">'
            f'<mRpt xml:id="b{bar.number}" num.visible="false"/></layer></staff></measure>'
        )
    words = sheet.roomy_words(bar) if roomy else dict.fromkeys(sheet.words(bar), "i")
    feet_at = {note.at for note in bar.feet.notes()}
    lone = {note.at for note in sheet.select_lone_feet(bar)}
    hands = _write_voice(bar.hands, VoiceWriter("h", words, feet_at))
    feet = _write_voice(bar.feet, VoiceWriter("f", {at: word for at, word in words.items() if at in lone}))
    return (
        f'<measure n="{bar.number}"{right}><staff n="1"><layer n="1">{hands}</layer>'
        f'<layer n="2">{feet}</layer></staff>{_write_controls(sheet, bar, first=first)}</measure>'
    )


def _write_voice(voice: Voice, writer: VoiceWriter) -> str:
    if len(voice.beats) == 1 and len(voice.beats[0]) == 1 and isinstance(voice.beats[0][0], Rest):
        return "<mSpace/>" if voice.beats[0][0].hidden else f'<mRest loc="{_REST_LOC}"/>'
    return "".join(_write_beat(beat, writer) for beat in voice.beats)


class VoiceWriter:
    """Writer of one voice's items as elements; each gives its grace notes and itself."""

    def __init__(
        self, letter: str, words: dict[Fraction, str], avoid: Collection[Fraction] = frozenset()
    ) -> None:
        """Write a voice.

        Args:
            letter: "h" for the hands, "f" for the feet.
            words: below its notes, by place.
            avoid: places of the other voice's notes, which its rests keep clear of.
        """
        self.stem = _STEM[letter]
        self.words = words
        self.avoid = avoid

    def item(self, item: Item, *, beamed: bool) -> tuple[str, str]:
        """Write an item's grace notes and the item itself, as elements."""
        if isinstance(item, Tuplet):
            return self._write_tuplet(item, beamed=beamed)
        if isinstance(item, Rest):
            return "", self._write_rest(item)
        return self._write_graces(item), self._write_note(item)

    def _write_tuplet(self, tuplet: Tuplet, *, beamed: bool) -> tuple[str, str]:
        graces, inside = _join_items(self, tuplet.items, beam=not beamed)
        number = self.stem == "up" and tuplet.number
        bracket = number and tuplet.bracket
        return graces, (
            f'<tuplet num="{tuplet.actual}" numbase="{tuplet.normal}" num.place="above" '
            f'bracket.place="above" num.visible="{_format_bool(number)}" '
            f'bracket.visible="{_format_bool(bracket)}">'
            f"{inside}</tuplet>"
        )

    def _write_rest(self, rest: Rest) -> str:
        dots = f' dots="{rest.dots}"' if rest.dots else ""
        if rest.hidden:
            return f'<space dur="{rest.value}"{dots}/>'
        loc = _RAISED_REST_LOC if rest.at in self.avoid and rest.value >= 8 else _REST_LOC
        return f'<rest dur="{rest.value}"{dots} loc="{loc}"/>'

    def _write_graces(self, note: Note) -> str:
        graced = [hit for hit in note.hits if hit.stroke.kind.graces]
        if not graced:
            return ""
        head = _write_head(
            replace(graced[0], stroke=Stroke(hand=graced[0].stroke.hand), surface=graced[0].grace_surface)
        )
        ids = [f"{note.id}g{i}" for i in range(graced[0].stroke.kind.graces)]
        if len(ids) == 1:
            inside = f'<note xml:id="{ids[0]}" dur="8" grace="unacc" stem.len="4" stem.dir="up"{head}/>'
        else:
            notes = "".join(f'<note xml:id="{i}" dur="16" grace="unacc" stem.dir="up"{head}/>' for i in ids)
            inside = f"<beam>{notes}</beam>"
        return f"<graceGrp>{inside}</graceGrp>"

    def _write_note(self, note: Note) -> str:
        dots = f' dots="{note.dots}"' if note.dots else ""
        stem = f' stem.dir="{self.stem}"'
        buzz = any(hit.stroke.kind is Kind.BUZZ for hit in note.hits)
        if buzz or note.slashes:
            stem += f' stem.mod="{"z" if buzz else f"{note.slashes}slash"}"'
        timed = f'xml:id="{note.id}" dur="{note.value}"{dots}{stem}'
        inside = self._write_marks(note) + self._write_verse(note)
        if len(note.hits) == 1:
            return f"<note {timed}{_write_head(note.hits[0])}>{inside}</note>"
        heads = "".join(f'<note xml:id="{note.id}k{i}"{_write_head(hit)}/>' for i, hit in enumerate(note.hits))
        return f"<chord {timed}>{heads}{inside}</chord>"

    def _write_marks(self, note: Note) -> str:
        marks = [hit.surface.mark for hit in note.hits if hit.surface.mark]
        if any(hit.stroke.level is Level.ACCENT for hit in note.hits):
            marks.append("acc")
        side = "above" if self.stem == "up" else "below"
        return "".join(f'<artic artic="{mark}" place="{side}"/>' for mark in marks)

    def _write_verse(self, note: Note) -> str:
        word = self.words.get(note.at)
        return f'<verse n="1"><syl>{escape(word)}</syl></verse>' if word else ""


def _write_head(hit: Hit) -> str:
    shape = f' head.shape="{_HEADS[hit.surface.head]}"' if hit.surface.head else ""
    ghost = ' head.mod="paren"' if hit.stroke.level is Level.GHOST else ""
    return f' loc="{hit.surface.loc}"{shape}{ghost}'


def _write_beat(items: Sequence[Item], writer: VoiceWriter) -> str:
    graces, inside = _join_items(writer, items, beam=True)
    return graces + inside


def _join_items(writer: VoiceWriter, items: Sequence[Item], *, beam: bool) -> tuple[str, str]:
    """Join items side by side, those that share a beam under one; grace notes of the first come first."""
    out: list[str] = []
    leading = ""
    for beamed, run in split_beams(items) if beam else ((False, (item,)) for item in items):
        parts = [writer.item(item, beamed=beamed or not beam) for item in run]
        graces = parts[0][0]
        body = parts[0][1] + "".join(grace + part for grace, part in parts[1:])
        if beamed:
            body = f"<beam>{body}</beam>"
        if out:
            out.append(graces + body)
        else:
            leading = graces
            out.append(body)
    return leading, "".join(out)


def _write_controls(sheet: Sheet, bar: WrittenBar, *, first: bool) -> str:
    """Write what is attached to the bar: tempo, the fill's label, slurs of grace notes, sticking letters."""
    out = []
    if first and sheet.tempo:
        out.append(_write_tempo(sheet.tempo, sheet.phrase.meter))
    span = sheet.phrase.span
    start = (bar.number - 1) * sheet.phrase.meter.bar
    if sheet.label and span and start <= span.start < start + sheet.phrase.meter.bar:
        stamp = float((span.start - start) * sheet.phrase.meter.denominator) + 1
        out.append(
            f'<dir type="span" tstamp="{stamp:g}" endid="#{sheet.select_fill()[-1].id}" extender="true" '
            f'staff="1" place="above"><rend fontstyle="normal">{escape(sheet.label)}</rend></dir>'
        )
    out += [write_slur(note.id) for note in bar.hands.notes() if spell_graces(note)]
    out += [
        f'<tie startid="#{roll.id}" endid="#{release.id}" curvedir="below"/>'
        for roll, release in bar.hands.tied_rolls()
    ]
    return "".join(out) + _write_stickings(sheet, bar)


def write_slur(note: str) -> str:
    """Write the slur from a note's first grace note."""
    return f'<slur startid="#{note}g0" endid="#{note}" curvedir="below"/>'


def _write_stickings(sheet: Sheet, bar: WrittenBar) -> str:
    out = []
    mine = {note.id for note in sheet.select_taught(bar)}
    for note, letters in sheet.stickings():
        if note.id not in mine:
            continue
        graces = [(f"{note.id}g{i}", letter, " grace") for i, letter in enumerate(spell_graces(note))]
        for target, letter, small in [*graces, (note.id, _pad_letter(letters), "")]:
            size = ' fontsize="80%"' if small else ""
            out.append(
                f'<dir type="stick{small}" startid="#{target}" place="below" vgrp="100">'
                f'<rend halign="center" fontstyle="normal"{size}>{letter}</rend></dir>'
            )
    return "".join(out)


def _pad_letter(letters: str) -> str:
    """Pad a letter, so that the row keeps clear of the stem of a kick next to it."""
    return f"&#160;{letters}&#160;"


def _write_tempo(words: str, meter: Meter) -> str:
    """Write the tempo; it is enlarged and padded so that the page makes room for it as `details` draws it."""
    glyph = f'<rend glyph.auth="smufl" fontsize="130%">{_NOTE_GLYPHS[meter.tempo_unit]}</rend>'
    return (
        f'<tempo tstamp="1" staff="1" place="above">{glyph}'
        f'<rend fontweight="normal"> = {escape(words)}{_TEMPO_PAD}</rend></tempo>'
    )


def _format_bool(value: bool) -> str:
    return "true" if value else "false"
