"""A sticking as a drummer reads it in a terminal: a line for every beat, strokes with their counts."""

from __future__ import annotations

from collections.abc import Iterator

from fillwright.score.drumpart import PartStroke
from fillwright.score.handsof import PartHands

_PARTS = {
    0: "",
    6: "e",
    12: "&",
    18: "a",
    8: "trip",
    16: "let",
    4: "trip",
    20: "let",
}
"""Twenty-fourths of a beat that have a word; a played stroke takes the nearest."""

_NEAR = 1.5
"""Twenty-fourths of a beat: what lies further from any of them has no word."""


def in_words(found: PartHands) -> Iterator[str]:
    """Lines: what it asks, the sticking bar by bar, then what stands in its way and what was read otherwise."""
    yield _verdict(found)
    yield ""
    yield from _bars(found)
    if found.unplayable:
        yield ""
        yield "Not playable at this tempo:"
        yield from (f"  {sentence}" for sentence in found.unplayable)
    if found.report:
        yield ""
        yield "Read with care:"
        yield from (f"  {sentence}" for sentence in found.report)


def _verdict(found: PartHands) -> str:
    word = "playable" if found.sticking.playable else "not playable"
    ceiling = "no ceiling" if found.ceiling_bpm is None else f"ceiling {found.ceiling_bpm:.0f}"
    return (
        f"{found.player.title} player, {found.kit.name} kit, at {found.tempo:g}: {word}; "
        f"peak demand {found.sticking.peak_demand:.2f}, {ceiling}."
    )


def _bars(found: PartHands) -> Iterator[str]:
    """A line for each beat with strokes: count, hand, surface; a * behind a stroke beyond the limit."""
    lines: dict[tuple[int, int], list[str]] = {}
    for stroke, played in zip(found.strokes, found.sticking.played, strict=True):
        bar, beat, word = counted(stroke)
        mark = "*" if played.demand > 1.0 else ""
        limb = {"right foot": "RF", "left foot": "LF"}.get(played.limb.value, played.limb.value)
        lines.setdefault((bar, beat), []).append(f"{word or str(beat)} {limb} {stroke.struck.surface}{mark}")
    last = 0
    for (bar, beat), words in lines.items():
        head = f"bar {bar:<3}" if bar != last else " " * 7
        last = bar
        yield f"{head} {beat:>2} | {', '.join(words)}"


def counted(stroke: PartStroke) -> tuple[int, int, str]:
    """Bar, beat and the word for the part of the beat, "~" where there is none; a late stroke stays in its beat.

    >>> from fillwright.craft.hands import Struck
    >>> counted(PartStroke(struck=Struck(at_seconds=0, surface="snare"), bar=2, beat=3.51))
    (2, 3, '&')
    """
    beat, part = divmod(stroke.beat, 1)
    nearest = min(_PARTS, key=lambda each: abs(each - part * 24))
    return stroke.bar, int(beat), _PARTS[nearest] if abs(nearest - part * 24) <= _NEAR else "~"
