"""The kit key: which signs a page uses, and how they stand side by side."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction

import pytest

from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.sticking import parse_sticking
from fillwright.music.surfaces import find_surface, load_surfaces
from fillwright.score.engraving.notation_key import find_signs, name_sign, write_key_mei

MEI = "{http://www.music-encoding.org/ns/mei}"


def hit(stroke: str, on: str = "snare") -> Hit:
    (read,) = parse_sticking(stroke)
    assert read
    return Hit(at=Fraction(0), length=Fraction(1, 4), stroke=read, surface=find_surface(on))


def names(*hits: Hit) -> tuple[list[str], list[str]]:
    struck, strokes = find_signs(hits)
    return [sign.label for sign in struck], [sign.label for sign in strokes]


def test_surfaces_go_from_the_lowest_head_up() -> None:
    struck, _ = find_signs(find_groove("swing ride").hits)
    assert [sign.label for sign in struck] == ["Foot hi-hat", "Snare", "Ride"]
    everything = [hit("R", name) for name in load_surfaces()]
    locs = [sign.surface.loc for sign in find_signs(everything)[0]]
    assert locs == sorted(locs)
    assert len(locs) == len(load_surfaces())


@pytest.mark.parametrize(
    ("stroke", "label"),
    [("R>", "Accent"), ("(R)", "Ghost note"), ("lR", "Flam"), ("llR", "Drag"), ("Rz", "Buzz")],
)
def test_a_kind_of_stroke_is_listed_where_it_is_used(stroke: str, label: str) -> None:
    assert names(hit(stroke)) == (["Snare"], [label])
    assert names(hit("R")) == (["Snare"], [])


def test_kinds_of_stroke_come_in_one_order() -> None:
    assert names(hit("Rz"), hit("lR>"), hit("(L)"))[1] == ["Accent", "Ghost note", "Flam", "Buzz"]


def test_nothing_used_gives_no_sign() -> None:
    assert names() == ([], [])


def test_a_key_is_well_formed_and_has_a_note_for_each_sign() -> None:
    struck, strokes = find_signs([hit("lR>"), hit("R", "crash"), hit("R", "kick"), hit("llR")])
    signs = [*struck, *strokes]
    root = ET.fromstring(write_key_mei(signs))
    ids = [note.get("{http://www.w3.org/XML/1998/namespace}id") for note in root.iter(f"{MEI}note")]
    assert [labels for labels in ids if labels and "g" not in labels] == [
        name_sign(i) for i in range(len(signs))
    ]
    assert len(list(root.iter(f"{MEI}slur"))) == 2
    stems = {note.get("loc"): note.get("stem.dir") for note in root.iter(f"{MEI}note")}
    assert (stems["1"], stems["10"]) == ("down", "up")
