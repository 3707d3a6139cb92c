"""The notation key: every sign that a page uses, with its name."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from fillwright.music.hit import Hit
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import Surface, find_surface, load_surfaces
from fillwright.score.engraving.mei import VoiceWriter, wrap_document, write_slur
from fillwright.score.written import Note


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """One note of the key and the words below it."""

    label: str
    surface: Surface
    stroke: Stroke


_TAP = Stroke(hand=Limb.RIGHT)
_STROKES = (
    ("Accent", Stroke(hand=Limb.RIGHT, level=Level.ACCENT)),
    ("Ghost note", Stroke(hand=Limb.RIGHT, level=Level.GHOST)),
    ("Flam", Stroke(hand=Limb.RIGHT, kind=Kind.FLAM)),
    ("Drag", Stroke(hand=Limb.RIGHT, kind=Kind.DRAG)),
    ("Buzz", Stroke(hand=Limb.RIGHT, kind=Kind.BUZZ)),
)


def find_signs(hits: Iterable[Hit]) -> tuple[tuple[Sign, ...], tuple[Sign, ...]]:
    """Find the surfaces that some hits use, from the lowest note head up, and the kinds of stroke."""
    played = tuple(hits)
    names = {hit.surface.name for hit in played}
    struck = tuple(
        Sign(label=s.label, surface=s, stroke=Stroke(hand=s.foot) if s.foot else _TAP)
        for s in sorted(load_surfaces().values(), key=lambda s: s.loc)
        if s.name in names
    )
    kinds = {hit.stroke.kind for hit in played}
    levels = {hit.stroke.level for hit in played}
    strokes = tuple(
        Sign(label=label, surface=find_surface("snare"), stroke=stroke)
        for label, stroke in _STROKES
        if (stroke.level in levels and stroke.level is not Level.TAP)
        or (stroke.kind in kinds and stroke.kind is not Kind.SINGLE)
    )
    return struck, strokes


def name_sign(index: int) -> str:
    """Return the id of the note of a sign."""
    return f"b1h{index}-1"


def write_key_mei(signs: Sequence[Sign]) -> str:
    """Write the signs side by side on one staff, as MEI; every label gets the same room."""
    room = max((sign.label for sign in signs), key=len)
    notes, slurs = "", ""
    for index, sign in enumerate(signs):
        at = Fraction(index)
        hit = Hit(at=at, length=Fraction(1, 4), stroke=sign.stroke, surface=sign.surface)
        note = Note(id=name_sign(index), at=at, length=hit.length, value=4, dots=0, hits=(hit,))
        writer = VoiceWriter("f" if sign.surface.foot else "h", {at: room})
        notes += "".join(writer.item(note, beamed=False))
        slurs += write_slur(note.id) if sign.stroke.kind.graces else ""
    staff = f'<staff n="1"><layer n="1">{notes}</layer></staff>'
    return wrap_document(f'<measure n="1" right="invis">{staff}{slurs}</measure>')
