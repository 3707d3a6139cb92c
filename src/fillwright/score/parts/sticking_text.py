"""A sticking as a drummer reads it in a terminal: a line for every beat, strokes with their counts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fillwright.craft.sticking.hands import AssignedStroke
from fillwright.music.stroke import Limb
from fillwright.score.parts.drum_part import PartStroke
from fillwright.score.parts.part_sticking import PartSticking

_LIMBS = {Limb.RIGHT: "R", Limb.LEFT: "L", Limb.RIGHT_FOOT: "RF", Limb.LEFT_FOOT: "LF"}

_FOURS = {0: "", 6: "e", 12: "&", 18: "a"}
_THREES = {0: "", 8: "trip", 16: "let"}
_SIXES = {0: "", 4: "trip", 8: "let", 12: "&", 16: "trip", 20: "let"}
"""Twenty-fourths of a beat and the words that players say there (six to a beat as two triplets)."""

_NEAR = 1.5
"""Twenty-fourths of a beat: a stroke further than this from every word has none."""


def describe_part(found: PartSticking) -> Iterator[str]:
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


def _verdict(found: PartSticking) -> str:
    word = "playable" if found.sticking.playable else "not playable"
    ceiling = "no ceiling" if found.ceiling_bpm is None else f"ceiling {found.ceiling_bpm:.0f}"
    return (
        f"{found.player.title} player, {found.kit.name} kit, at {found.tempo:g}: {word}; "
        f"peak demand {found.sticking.peak_demand:.2f}, {ceiling}."
    )


def _bars(found: PartSticking) -> Iterator[str]:
    """A line for each beat with strokes: count, limb, surface; a * behind a stroke beyond the limit."""
    beats: dict[tuple[int, int], list[tuple[PartStroke, AssignedStroke]]] = {}
    for stroke, played in zip(found.strokes, found.sticking.played, strict=True):
        beats.setdefault(_beat_of(stroke, int(found.meter.split("/")[0])), []).append((stroke, played))
    last = 0
    for (bar, beat), pairs in beats.items():
        # a stroke just before the bar line is the next bar's first, played early
        places = [stroke.beat if stroke.bar == bar else 1.0 for stroke, _ in pairs]
        words = count_beat(beat, places)
        texts = [
            f"{word} {_LIMBS[played.limb]} {stroke.struck.surface}{'*' if played.demand > 1.0 else ''}"
            for word, (stroke, played) in zip(words, pairs, strict=True)
        ]
        yield f"{f'bar {bar}' if bar != last else '':<7} {beat:>2} | {', '.join(texts)}"
        last = bar


def _beat_of(stroke: PartStroke, beats: int) -> tuple[int, int]:
    """Bar and beat that a stroke is counted in: one played early belongs to the beat it was meant for."""
    beat = int(stroke.beat + _NEAR / 24)
    return (stroke.bar + 1, 1) if beats < beat < beats + 2 else (stroke.bar, beat)


def count_beat(beat: int, places: Sequence[float]) -> list[str]:
    """What a player says at each stroke of a beat: in fours, threes or sixes, whichever fits.

    A stroke far from every word has "~".

    >>> count_words(3, [3.01, 3.26, 3.49])
    ['3', 'e', '&']
    >>> count_words(1, [1.0, 1.17, 1.33])
    ['1', 'trip', 'let']
    """
    parts = [(place - beat) * 24 for place in places]

    def misfit(table: dict[int, str]) -> tuple[int, int]:
        off = sum(min(abs(each - part) for each in table) for part in parts)
        return round(off / len(parts) / _NEAR), len(table)

    table = min((_FOURS, _THREES, _SIXES), key=misfit)
    nearest = [min((abs(each - part), each) for each in table)[1] for part in parts]
    return [
        (table[each] or str(beat)) if abs(each - part) <= _NEAR else "~"
        for each, part in zip(nearest, parts, strict=True)
    ]
