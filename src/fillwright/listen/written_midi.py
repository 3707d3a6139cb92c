"""What is written in a MIDI file: grace notes, levels and the fill guessed from plain notes on the grid.

The thresholds are ours: chosen by what teachers write, not measured.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace

from fillwright.listen.written import WrittenPhrase, OwnedStroke, WrittenStroke, order_strokes
from fillwright.music.stroke import Level
from fillwright.music.surfaces import load_surfaces

Note = tuple[float, str, int]
"""Seconds at the file's tempo, name of the surface, velocity."""

_GRACE_SECONDS = 0.07
_SURELY_GRACE_SECONDS = 0.035
_AT_ONCE_SECONDS = 0.002
_SOFTER = 0.8
_GRIDS = (8, 6)
_OFF_GRID_SECONDS = 0.004
_ACCENT, _GHOST = 1.2, 0.65
_ALIKE = 0.7
_PARTS = 24


def infer_phrase(
    notes: Sequence[Note], *, bar_starts: Sequence[float], beats: Sequence[float], tempo: float
) -> WrittenPhrase:
    """Plain notes written on the grid, as a listener needs them.

    A soft note of a hand off the grid, less than 70 ms ahead of a louder one, is its grace note. Levels come
    from velocities against the usual one. The fill is where bars leave the groove that the others repeat.

    Args:
        notes: in any order.
        bar_starts: seconds at which each bar starts, and the end of the last; at least two.
        beats: seconds of every beat.
        tempo: of the file, in the meter's beats a minute.

    >>> hats = [(0.25 * n, "hi-hat", 80) for n in range(8)]
    >>> made = of_notes([*hats, (0.475, "snare", 40), (0.5, "snare", 110)],
    ...                 bar_starts=(0.0, 2.0), beats=(0.0, 0.5, 1.0, 1.5), tempo=120)
    >>> [(one.surface, one.grace_of) for one in made.strokes if one.surface == "snare"]
    [('snare', 4), ('snare', None)]
    """
    placed = sorted(notes)
    owners = _owners(placed, beats, 60 / tempo)
    usual = _usual_velocity([note for number, note in enumerate(placed) if number not in owners])
    owned: list[OwnedStroke] = []
    for number, (seconds, surface, velocity) in enumerate(placed):
        owner = owners.get(number)
        main = placed[owner][0] if owner is not None else seconds
        stroke = WrittenStroke(
            seconds=seconds - bar_starts[0],
            bar=min(len(bar_starts) - 2, max(0, bisect_right(bar_starts, main + 1e-6) - 1)),
            surface=surface,
            level=_level(velocity, usual) if owner is None else Level.GHOST,
            velocity=velocity,
        )
        owned.append((stroke, number, owner))
    starts = tuple(bar - bar_starts[0] for bar in bar_starts)
    return WrittenPhrase(
        strokes=_with_parts(order_strokes(owned), starts, 60 / tempo),
        bar_starts=starts,
        beats=tuple(beat - bar_starts[0] for beat in beats),
        tempo=tempo,
    )


def _owners(notes: Sequence[Note], beats: Sequence[float], beat: float) -> dict[int, int]:
    """By the number of each grace note, the number of its main note."""
    made: dict[int, int] = {}
    for number in reversed(range(len(notes))):  # the later of a drag's two grace notes vouches for the first
        seconds, surface, _ = notes[number]
        louder = _louder_behind(notes, number)
        if not louder:
            continue
        owner = max(louder, key=lambda other: (notes[other][1] == surface, _is_drum(notes[other][1]), -other))
        ahead = notes[owner][0] - seconds
        vouched = owner in made.values()
        if vouched or ahead < _SURELY_GRACE_SECONDS or _off_grid(seconds, beats, beat):
            made[number] = owner
    return made


def _louder_behind(notes: Sequence[Note], number: int) -> list[int]:
    """Notes of hands near enough behind a softer one to be its main note."""
    seconds, surface, velocity = notes[number]
    made = []
    for other in range(number + 1, len(notes) if _by_hand(surface) else 0):
        later, where, louder = notes[other]
        if later - seconds > _GRACE_SECONDS:
            break
        if later - seconds > _AT_ONCE_SECONDS and _by_hand(where) and velocity <= _SOFTER * louder:
            made.append(other)
    return made


def _by_hand(name: str) -> bool:
    found = load_surfaces().get(name)
    return found is not None and found.foot is None


def _is_drum(name: str) -> bool:
    return not load_surfaces()[name].is_cymbal


def _off_grid(seconds: float, beats: Sequence[float], beat: float) -> bool:
    place = max(0, bisect_right(beats, seconds + _OFF_GRID_SECONDS) - 1)
    start = beats[place] if beats else 0.0
    length = beats[place + 1] - start if place + 1 < len(beats) else beat
    part = (seconds - start) / length
    return all(abs(part * grid - round(part * grid)) * length / grid > _OFF_GRID_SECONDS for grid in _GRIDS)


def _usual_velocity(notes: Sequence[Note]) -> float:
    velocities = sorted(velocity for _, _, velocity in notes)
    return float(velocities[(len(velocities) - 1) * 9 // 20]) if velocities else 80.0


def _level(velocity: int, usual: float) -> Level:
    if velocity >= _ACCENT * usual:
        return Level.ACCENT
    return Level.GHOST if velocity <= _GHOST * usual else Level.TAP


def _with_parts(strokes: tuple[WrittenStroke, ...], starts: Sequence[float], beat: float) -> tuple[WrittenStroke, ...]:
    """Strokes with the fill and the landing marked, where bars of groove repeat before them."""
    count = len(starts) - 1
    bars = [_pattern(strokes, starts, number, beat) for number in range(count)]
    groove = max(bars, key=lambda one: sum(_likeness(one, other) for other in bars))
    alike = [_likeness(one, groove) >= _ALIKE for one in bars]
    landing = _landing(bars, alike)
    if landing == 2:  # one bar of groove and one of fill
        alike = [True, False, False]
    if (sum(alike) < 2 and landing != 2) or all(alike):
        return strokes
    fills: dict[int, int] = {}
    for number in range(alike.index(True) + 1, count):
        if not alike[number] and number != landing:
            first = min((at for at, _ in bars[number] ^ bars[alike.index(True)]), default=0)
            fills[number] = 0 if number - 1 in fills else first
    return tuple(_marked(one, strokes, starts, (fills, landing, beat)) for one in strokes)


Pattern = frozenset[tuple[int, str]]


def _pattern(strokes: Sequence[WrittenStroke], starts: Sequence[float], bar: int, beat: float) -> Pattern:
    return frozenset(
        (round((one.seconds - starts[bar]) / beat * _PARTS), one.surface)
        for one in strokes
        if one.bar == bar and one.grace_of is None
    )


def _likeness(one: Pattern, other: Pattern) -> float:
    return len(one & other) / len(one | other) if one | other else 0.0


def _landing(bars: Sequence[Pattern], alike: Sequence[bool]) -> int | None:
    """The last bar, where it holds nothing but its first beat after a bar off the groove."""
    last = len(bars) - 1
    short = bool(bars[last]) and all(at < _PARTS // 2 for at, _ in bars[last])
    return last if short and (last == 2 or (last > 2 and not (alike[last] or alike[last - 1]))) else None


def _marked(
    one: WrittenStroke,
    strokes: Sequence[WrittenStroke],
    starts: Sequence[float],
    parts: tuple[dict[int, int], int | None, float],
) -> WrittenStroke:
    fills, landing, beat = parts
    main = strokes[one.grace_of] if one.grace_of is not None else one
    at = round((main.seconds - starts[main.bar]) / beat * _PARTS)
    filled = main.bar in fills and at >= fills[main.bar]
    return replace(one, in_fill=filled, landing=main.bar == landing)
