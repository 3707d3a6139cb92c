"""The pieces of the takes: fills of the demo lesson and of lessons written for the bench."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.music.phrase import Phrase
from fillwright.music.timing import Feel

_SIXTEENTHS = """
number = 1
level = "professional"
title = "Sixteenths round the kit"
groove = "straight eighths"
tempo = "80..140 step 20"
bars = 2
[[figure]]
name = "single stroke roll"
rhythm = "16"
steps = ["last two beats", "whole bar", "round the kit"]
[[figure]]
name = "single paradiddle"
steps = ["whole bar", "round the kit", "accents to the toms"]
[[figure]]
name = "double stroke open roll"
rhythm = "16"
steps = ["last two beats", "round the kit"]
"""
_RUFFS = """
number = 2
level = "professional"
title = "Flams and drags"
groove = "four on the floor"
tempo = "80..110 step 10"
[[figure]]
name = "flam"
rhythm = "8"
steps = ["last two beats", "whole bar", "round the kit"]
[[figure]]
name = "flam tap"
steps = ["last two beats", "round the kit"]
[[figure]]
name = "flamacue"
steps = ["whole bar"]
[[figure]]
name = "drag paradiddle #1"
steps = ["whole bar", "round the kit"]
[[figure]]
name = "single drag tap"
steps = ["whole bar"]
"""
_TRIPLETS = """
number = 3
level = "professional"
title = "Triplets"
groove = "shuffle"
swing = 0.667
tempo = "70..120 step 10"
bars = 2
[[figure]]
name = "single stroke roll"
rhythm = "8t"
steps = ["last two beats", "whole bar", "round the kit"]
[[figure]]
name = "flam accent"
steps = ["whole bar", "round the kit"]
[[figure]]
name = "triple stroke roll"
rhythm = "8t"
steps = ["round the kit"]
"""
_SIX_EIGHT = """
number = 4
level = "professional"
title = "In six"
groove = "six-eight"
tempo = "50..80 step 10"
bars = 2
[[figure]]
name = "single stroke roll"
steps = ["last beat", "whole bar", "round the kit"]
[[figure]]
name = "single paradiddle-diddle"
steps = ["whole bar", "round the kit"]
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A phrase to play: name, phrase, feel and the tempos of its ladder."""

    name: str
    phrase: Phrase
    feel: Feel
    ladder: tuple[int, ...]


@cache
def list_pieces() -> tuple[Piece, ...]:
    """Return every fill of every lesson, in order."""
    pieces = []
    for text in (read_demo_text(), _SIXTEENTHS, _RUFFS, _TRIPLETS, _SIX_EIGHT):
        lesson = parse_lesson(text)
        for fill in build_fills(lesson).fills:
            name = f"{lesson.number}/{fill.slug}"
            pieces.append(Piece(name=name, phrase=fill.phrase, feel=lesson.feel, ladder=fill.ladder))
    return tuple(pieces)
