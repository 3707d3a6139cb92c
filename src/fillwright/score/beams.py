"""Beams: the notes of a beat that are joined, and the number of beams of each.

The engraver works out the levels of a beam by itself; MusicXML needs every beam spelt out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from fillwright.score.written import Item, Note, Rest, Tuplet, Voice

Leaf = Note | Rest


def spell_beams(voice: Voice) -> dict[str, tuple[str, ...]]:
    """Spell out the beams of every beamed note of a voice.

    Returns:
        By the note's id, a word for each level from the eighth's beam inwards: "begin", "continue", "end",
        "forward hook" or "backward hook".
    """
    levels: dict[str, list[str]] = {}
    for beat in voice.beats:
        for group in group_beams(beat):
            start = flatten_item(beat[0])[0].at
            for note_id, word in _spell_group(group, start):
                levels.setdefault(note_id, []).append(word)
    return {note_id: tuple(words) for note_id, words in levels.items()}


def group_beams(beat: Sequence[Item]) -> Iterator[tuple[Leaf, ...]]:
    """Group the notes of one beat that are under one beam, with the short rests between them.

    A tuplet of beamed notes shares the beam of its neighbours; one with rests in it has beams of its own.
    """
    for beamed, items in split_beams(beat):
        if beamed:
            yield tuple(leaf for item in items for leaf in flatten_item(item))
        elif isinstance(items[0], Tuplet):
            yield from group_beams(items[0].items)


def split_beams(items: Sequence[Item]) -> Iterator[tuple[bool, tuple[Item, ...]]]:
    """Split items into neighbours that share a beam, with the short rests between them, and single items.

    Returns:
        In order, whether the items share a beam, and the items; one note alone needs no beam.
    """
    for short, run in groupby(items, key=_is_short):
        group = list(run)
        notes = [index for index, item in enumerate(group) if short and _can_beam(item)]
        first, last = (notes[0], notes[-1]) if notes else (len(group), len(group) - 1)
        inside = tuple(group[first : last + 1])
        yield from ((False, (item,)) for item in group[:first])
        if sum(len(flatten_item(item)) for item in inside) > 1:
            yield True, inside
        elif inside:
            yield False, inside
        yield from ((False, (item,)) for item in group[last + 1 :])


def flatten_item(item: Item) -> tuple[Leaf, ...]:
    """Return the notes and rests of an item."""
    return item.items if isinstance(item, Tuplet) else (item,)


def _is_short(item: Item) -> bool:
    """Return True if a beam may cover an item: a short note or rest, or a tuplet of short notes."""
    return _can_beam(item) or (isinstance(item, Rest) and item.value >= 8)


def _can_beam(item: Item) -> bool:
    return all(isinstance(leaf, Note) and leaf.value >= 8 for leaf in flatten_item(item))


def _spell_group(group: Sequence[Leaf], beat_start: Fraction) -> Iterator[tuple[str, str]]:
    for level in range(1, max(_count_beams(leaf) for leaf in group) + 1):
        for joined, run in groupby(group, key=lambda leaf, level=level: _count_beams(leaf) >= level):  # type: ignore[misc]
            notes = [leaf for leaf in run if isinstance(leaf, Note)] if joined else []
            if len(notes) == 1:
                yield notes[0].id, _choose_hook(notes[0], group, beat_start)
                continue
            for note in notes:
                word = "begin" if note is notes[0] else "end" if note is notes[-1] else "continue"
                yield note.id, word


def _count_beams(leaf: Leaf) -> int:
    """Count the beams of a note value: one for an eighth."""
    return leaf.value.bit_length() - 3


def _choose_hook(note: Note, group: Sequence[Leaf], beat_start: Fraction) -> str:
    """Choose the side of a hook: it points to the note that it makes up a longer value with."""
    if note is group[0]:
        return "forward hook"
    if note is group[-1]:
        return "backward hook"
    undotted = note.length / Fraction(3, 2) if note.dots else note.length
    return "backward hook" if (note.at - beat_start) // undotted % 2 else "forward hook"
