"""A sticking as text for the terminal: a line for every beat, strokes with their counts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fillwright.craft.sticking.hands import AssignedStroke
from fillwright.music.stroke import Limb
from fillwright.score.parts.drum_part import PartStroke
from fillwright.score.parts.part_sticking import PartSticking

_LIMBS = {Limb.RIGHT: "R", Limb.LEFT: "L", Limb.RIGHT_FOOT: "RF", Limb.LEFT_FOOT: "LF"}

# Words that players say at each twenty-fourth of a beat (common practice, no source).
_FOURS = {0: "", 6: "e", 12: "&", 18: "a"}
_THREES = {0: "", 8: "trip", 16: "let"}  # the same for triplets
_SIXES = {0: "", 4: "trip", 8: "let", 12: "&", 16: "trip", 20: "let"}
"""Six to a beat are counted as two triplets."""

_NEAR = 1.5
"""Twenty-fourths of a beat: a stroke further than this from every word has none (ours, not measured)."""


def describe_part(part: PartSticking) -> Iterator[str]:
    """Describe a sticking in lines: the verdict, the sticking bar by bar, what can't be played, and notes."""
    yield _describe_verdict(part)
    yield ""
    yield from _describe_beats(part)
    if part.unplayable:
        yield ""
        yield "Not playable at this tempo:"
        yield from (f"  {sentence}" for sentence in part.unplayable)
    if part.report:
        yield ""
        yield "Please check:"
        yield from (f"  {sentence}" for sentence in part.report)


def _describe_verdict(part: PartSticking) -> str:
    word = "playable" if part.sticking.playable else "not playable"
    top = "no top tempo" if part.ceiling_bpm is None else f"top tempo {part.ceiling_bpm:.0f} bpm"
    return (
        f"{part.player.title} player, {part.kit.name} kit, at {part.tempo:g} bpm: {word}; "
        f"peak demand {part.sticking.peak_demand:.2f}, {top}."
    )


def _describe_beats(part: PartSticking) -> Iterator[str]:
    """Yield a line for each beat with strokes: count, limb, surface; a * after a stroke beyond the limit."""
    beats: dict[tuple[int, int], list[tuple[PartStroke, AssignedStroke]]] = {}
    for stroke, played in zip(part.strokes, part.sticking.strokes, strict=True):
        beats.setdefault(_find_beat(stroke, int(part.meter.split("/")[0])), []).append((stroke, played))
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


def _find_beat(stroke: PartStroke, beats: int) -> tuple[int, int]:
    """Find the bar and beat that a stroke is counted in: an early one belongs to the beat it was meant for."""
    beat = int(stroke.beat + _NEAR / 24)
    return (stroke.bar + 1, 1) if beats < beat < beats + 2 else (stroke.bar, beat)


def count_beat(beat: int, places: Sequence[float]) -> list[str]:
    """Count the strokes of a beat as a player says them: in fours, threes or sixes, whichever fits.

    A stroke far from every word has "~".

    >>> count_beat(3, [3.01, 3.26, 3.49])
    ['3', 'e', '&']
    >>> count_beat(1, [1.0, 1.17, 1.33])
    ['1', 'trip', 'let']
    """
    offsets = [(beats - beat) * 24 for beats in places]

    def measure_misfit(table: dict[int, str]) -> tuple[int, int]:
        off = sum(min(abs(part - offset) for part in table) for offset in offsets)
        return round(off / len(offsets) / _NEAR), len(table)

    table = min((_FOURS, _THREES, _SIXES), key=measure_misfit)
    nearest = [min((abs(part - offset), part) for part in table)[1] for offset in offsets]
    return [
        (table[part] or str(beat)) if abs(part - offset) <= _NEAR else "~"
        for part, offset in zip(nearest, offsets, strict=True)
    ]
