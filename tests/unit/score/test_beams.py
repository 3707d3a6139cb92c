"""Beams spelt out: who hangs together, and where hooks point."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Bar, Part, Phrase
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.score.beams import spell_beams
from fillwright.score.transcribe import transcribe

SHORT = {"begin": "[", "continue": "-", "end": "]", "forward hook": ">", "backward hook": "<"}


def spelt(*places: str, name: str = "4/4") -> list[str]:
    """Return the beams of each note of a bar, outer to inner; "" for a note without."""
    hits = tuple(
        Hit(
            at=Fraction(at),
            length=Fraction(length),
            stroke=Stroke(hand=Limb.LEFT),
            surface=find_surface("snare"),
        )
        for at, _, length in (text.partition(":") for text in places)
    )
    voice = transcribe(Phrase(meter=find_meter(name), bars=(Bar(part=Part.FILL, hits=hits),)))[0].hands
    made = spell_beams(voice)
    return ["".join(SHORT[word] for word in made.get(note.id, ())) for note in voice.notes()]


@pytest.mark.parametrize(
    ("places", "wanted"),
    [
        (["0:1/8", "1/8:1/8"], ["[", "]"]),
        (["0:1/4", "1/4:1/8"], ["", ""]),
        (["0:1/8", "1/8:1/8", "1/4:1/8", "3/8:1/8"], ["[", "]", "[", "]"]),
        (["0:1/16", "1/16:1/16", "1/8:1/16", "3/16:1/16"], ["[[", "--", "--", "]]"]),
        (["0:1/8", "1/8:1/16", "3/16:1/16"], ["[", "-[", "]]"]),
        (["0:3/16", "3/16:1/16"], ["[", "]<"]),
        (["0:1/16", "1/16:3/16"], ["[>", "]"]),
        (["0:1/16", "1/16:1/8", "3/16:1/16"], ["[>", "-", "]<"]),
        (["0:1/16", "1/8:1/8"], ["[>", "]"]),
        (["0:1/16", "1/8:1/16", "3/16:1/16"], ["[[", "--", "]]"]),
        (["0:1/12", "1/12:1/12", "1/6:1/12"], ["[", "-", "]"]),
        (["0:1/6", "1/6:1/12"], ["", ""]),
        (["0:1/12", "1/6:1/12"], ["[", "]"]),
        (["0:1/8", "1/8:1/24", "1/6:1/24", "5/24:1/24"], ["[", "-[", "--", "]]"]),
    ],
)
def test_beams_of_a_beat(places: list[str], wanted: list[str]) -> None:
    assert spelt(*places) == wanted


@pytest.mark.parametrize(
    ("places", "wanted"),
    [
        (["0:3/16", "3/16:1/16", "1/4:1/8"], ["[", "-<", "]"]),
        (["0:1/8", "1/8:1/16", "3/16:3/16"], ["[", "->", "]"]),
    ],
)
def test_a_hook_points_to_the_note_it_makes_up_a_value_with(places: list[str], wanted: list[str]) -> None:
    assert spelt(*places, name="6/8") == wanted
