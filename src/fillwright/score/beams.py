"""Beams: which notes of a beat hang together, and how many beams each carries.

The engraver works out the levels of a beam by itself; formats that want every beam spelt out get them here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from fillwright.score.written import Item, Note, Rest, Tuplet, Voice

Leaf = Note | Rest


def beams(voice: Voice) -> dict[str, tuple[str, ...]]:
    """The beams of every beamed note of a voice.

    Returns:
        By the note's id, a word for each level from the eighth's beam inwards: "begin", "continue", "end",
        "forward hook" or "backward hook".
    """
    made: dict[str, list[str]] = {}
    for beat in voice.beats:
        for group in beam_groups(beat):
            start = _first_leaf(beat[0]).at
            for note_id, word in _words(group, start):
                made.setdefault(note_id, []).append(word)
    return {note_id: tuple(words) for note_id, words in made.items()}


def beam_groups(beat: Sequence[Item]) -> Iterator[tuple[Leaf, ...]]:
    """Notes of one beat under one beam, with the short rests between them.

    A tuplet of beamed notes shares the beam of its neighbours; one with rests in it has beams of its own.
    """
    run: list[Leaf] = []
    for item in beat:
        if isinstance(item, Tuplet) and not all(_can_beam(leaf) for leaf in item.items):
            yield from _split(run)
            run = []
            yield from _split(item.items)
        else:
            run += item.items if isinstance(item, Tuplet) else (item,)
    yield from _split(run)


def _split(leaves: Sequence[Leaf]) -> Iterator[tuple[Leaf, ...]]:
    """Cut at every quarter and longer, without the rests at either end; one note alone needs no beam."""
    for short, run in groupby(leaves, key=lambda leaf: leaf.value >= 8):
        group = list(run) if short else []
        while group and isinstance(group[0], Rest):
            group.pop(0)
        while group and isinstance(group[-1], Rest):
            group.pop()
        if len(group) > 1:
            yield tuple(group)


def _can_beam(item: Leaf) -> bool:
    return isinstance(item, Note) and item.value >= 8


def _first_leaf(item: Item) -> Leaf:
    return item.items[0] if isinstance(item, Tuplet) else item


def _words(group: Sequence[Leaf], beat_start: Fraction) -> Iterator[tuple[str, str]]:
    for level in range(1, max(_flags(leaf) for leaf in group) + 1):
        for joined, run in groupby(group, key=lambda leaf, level=level: _flags(leaf) >= level):  # type: ignore[misc]
            notes = [leaf for leaf in run if isinstance(leaf, Note)] if joined else []
            if len(notes) == 1:
                yield notes[0].id, _hook(notes[0], group, beat_start)
                continue
            for note in notes:
                word = "begin" if note is notes[0] else "end" if note is notes[-1] else "continue"
                yield note.id, word


def _flags(leaf: Leaf) -> int:
    """Beams of a note value: one for an eighth."""
    return leaf.value.bit_length() - 3


def _hook(note: Note, group: Sequence[Leaf], beat_start: Fraction) -> str:
    """A hook points to the note it makes up a longer value with."""
    if note is group[0]:
        return "forward hook"
    if note is group[-1]:
        return "backward hook"
    undotted = note.length / Fraction(3, 2) if note.dots else note.length
    return "backward hook" if (note.at - beat_start) // undotted % 2 else "forward hook"
