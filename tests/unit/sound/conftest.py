"""Phrases that the tests of sound play."""

from fractions import Fraction

import pytest

from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.phrase import Bar, Part, Phrase, build_landing
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import find_surface


def bar_of(*strokes: tuple[str, Kind, Level], part: Part = Part.FILL) -> Bar:
    """Equal strokes that fill a bar of 4/4, hand to hand."""
    length = Fraction(1, len(strokes))
    hands = (Limb.RIGHT, Limb.LEFT)
    return Bar(
        part=part,
        hits=tuple(
            Hit(
                at=index * length,
                length=length,
                stroke=Stroke(hand=hands[index % 2], kind=kind, level=level),
                surface=find_surface(name),
            )
            for index, (name, kind, level) in enumerate(strokes)
        ),
    )


@pytest.fixture
def make_phrase():
    """A function from strokes to a phrase of one bar of 4/4, with a landing if asked."""

    def make(*strokes, kind=Kind.SINGLE, level=Level.TAP, land=False) -> Phrase:
        groove = find_groove("straight eighths")
        bars = (bar_of(*((name, kind, level) for name in strokes)),)
        if land:
            bars += (Bar(part=Part.LANDING, hits=build_landing(groove.meter, Limb.RIGHT)),)
        return Phrase(meter=groove.meter, bars=bars)

    return make
