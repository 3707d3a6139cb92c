"""A written phrase inferred from the plain notes of a MIDI file: grace notes, dynamics, fill and landing."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace

from fillwright.listen.written import NumberedStroke, WrittenPhrase, WrittenStroke, order_strokes
from fillwright.music.stroke import Level
from fillwright.music.surfaces import load_surfaces

Note = tuple[float, str, int]
"""Seconds at the file's tempo, name of the surface, velocity."""

Pattern = frozenset[tuple[int, str]]
"""Strokes of one bar: places in 24ths of a beat and surfaces."""

# All numbers here are ours, not measured.
_GRACE_SECONDS = 0.07  # longest time from a grace note to its main note
_RUFF_SECONDS = 0.14  # longest time from the first grace note of a ruff to its main note
_SURELY_GRACE_SECONDS = 0.035  # a soft note nearer than this is a grace note, on the grid or not
_TOGETHER_SECONDS = 0.002  # notes nearer than this are simultaneous
_GRACE_SHARE = 0.8  # a grace note has at most this share of its main note's velocity
_GRIDS = (8, 6)  # parts of a beat that notes are written on: thirty-seconds and sixteenth triplets
_OFF_GRID_SECONDS = 0.004  # a note farther than this from every grid is off the grid
_ACCENT_SHARE = 1.2  # an accent has at least this share of the usual velocity
_GHOST_SHARE = 0.65  # a ghost note has at most this share of the usual velocity
_USUAL_QUANTILE = (9, 20)  # rank of the usual velocity among all: a little below the median
_USUAL_VELOCITY = 80.0  # without a note; MIDI velocity
_SIMILAR = 0.7  # share of common strokes from which two bars are the same groove
_PLACES = 24  # places of a beat at which two notes are the same


def infer_phrase(
    notes: Sequence[Note], *, bar_starts: Sequence[float], beats: Sequence[float], tempo: float
) -> WrittenPhrase:
    """Infer a written phrase from plain notes on the grid.

    A soft hand note off the grid, less than 70 ms before a louder one, is its grace note. Dynamics come from
    velocities against the usual one. The fill is where bars leave the groove that the others repeat.

    Args:
        notes: in any order.
        bar_starts: start of each bar and end of the last, in seconds; at least two.
        beats: every beat in seconds.
        tempo: of the file, in bpm of the meter's beat.

    >>> hats = [(0.25 * n, "hi-hat", 80) for n in range(8)]
    >>> phrase = infer_phrase([*hats, (0.475, "snare", 40), (0.5, "snare", 110)],
    ...                       bar_starts=(0.0, 2.0), beats=(0.0, 0.5, 1.0, 1.5), tempo=120)
    >>> [(stroke.surface, stroke.grace_of) for stroke in phrase.strokes if stroke.surface == "snare"]
    [('snare', 4), ('snare', None)]
    """
    ordered = sorted(notes)
    mains = _find_grace_notes(ordered, beats, 60 / tempo)
    usual = _find_usual_velocity([note for number, note in enumerate(ordered) if number not in mains])
    numbered: list[NumberedStroke] = []
    for number, (seconds, surface, velocity) in enumerate(ordered):
        main = mains.get(number)
        main_seconds = ordered[main][0] if main is not None else seconds
        stroke = WrittenStroke(
            seconds=seconds - bar_starts[0],
            bar=min(len(bar_starts) - 2, max(0, bisect_right(bar_starts, main_seconds + 1e-6) - 1)),
            surface=surface,
            level=_classify_level(velocity, usual) if main is None else Level.GHOST,
            velocity=velocity,
        )
        numbered.append((stroke, number, main))
    starts = tuple(start - bar_starts[0] for start in bar_starts)
    return WrittenPhrase(
        strokes=_mark_parts(order_strokes(numbered), starts, 60 / tempo),
        bar_starts=starts,
        beats=tuple(beat - bar_starts[0] for beat in beats),
        tempo=tempo,
    )


def _find_grace_notes(notes: Sequence[Note], beats: Sequence[float], beat: float) -> dict[int, int]:
    """Return the number of the main note, by the number of each grace note."""
    mains: dict[int, int] = {}
    confirmed_mains: set[int] = set()
    for number in reversed(range(len(notes))):  # a drag's second grace note confirms the first
        seconds, surface, _ = notes[number]
        louder = _find_louder_after(notes, number)
        if not louder:
            continue
        main = max(louder, key=lambda later: (notes[later][1] == surface, _is_drum(notes[later][1]), -later))
        ahead = notes[main][0] - seconds
        main = mains.get(main, main)  # a ruff that rises: all its notes belong to the last
        if notes[main][0] - seconds > _RUFF_SECONDS:
            continue
        confirmed = main in confirmed_mains
        if confirmed or ahead < _SURELY_GRACE_SECONDS or _is_off_grid(seconds, beats, beat):
            mains[number] = main
            confirmed_mains.add(main)
    return mains


def _find_louder_after(notes: Sequence[Note], number: int) -> list[int]:
    """Find the hand notes that are near enough after a softer one to be its main note."""
    seconds, surface, velocity = notes[number]
    louder = []
    for later in range(number + 1, len(notes) if _is_by_hand(surface) else 0):
        later_seconds, later_surface, later_velocity = notes[later]
        gap = later_seconds - seconds
        if gap > _GRACE_SECONDS:
            break
        if gap > _TOGETHER_SECONDS and _is_by_hand(later_surface) and velocity <= _GRACE_SHARE * later_velocity:
            louder.append(later)
    return louder


def _is_by_hand(name: str) -> bool:
    surface = load_surfaces().get(name)
    return surface is not None and surface.foot is None


def _is_drum(name: str) -> bool:
    return not load_surfaces()[name].is_cymbal


def _is_off_grid(seconds: float, beats: Sequence[float], beat: float) -> bool:
    number = max(0, bisect_right(beats, seconds + _OFF_GRID_SECONDS) - 1)
    start = beats[number] if beats else 0.0
    length = beats[number + 1] - start if number + 1 < len(beats) else beat
    part = (seconds - start) / length
    return all(abs(part * grid - round(part * grid)) * length / grid > _OFF_GRID_SECONDS for grid in _GRIDS)


def _find_usual_velocity(notes: Sequence[Note]) -> float:
    velocities = sorted(velocity for _, _, velocity in notes)
    part, parts = _USUAL_QUANTILE
    return float(velocities[(len(velocities) - 1) * part // parts]) if velocities else _USUAL_VELOCITY


def _classify_level(velocity: int, usual: float) -> Level:
    if velocity >= _ACCENT_SHARE * usual:
        return Level.ACCENT
    return Level.GHOST if velocity <= _GHOST_SHARE * usual else Level.TAP


def _mark_parts(
    strokes: tuple[WrittenStroke, ...], starts: Sequence[float], beat: float
) -> tuple[WrittenStroke, ...]:
    """Mark the fill and the landing where bars of groove repeat before them."""
    count = len(starts) - 1
    bars = [_extract_pattern(strokes, starts, number, beat) for number in range(count)]
    groove = max(bars, key=lambda bar: sum(_compare_patterns(bar, other) for other in bars))
    in_groove = [_compare_patterns(bar, groove) >= _SIMILAR for bar in bars]
    landing = _find_landing(bars, in_groove)
    if landing == 2:  # one bar of groove and one of fill
        in_groove = [True, False, False]
    if (sum(in_groove) < 2 and landing != 2) or all(in_groove):
        return strokes
    fills: dict[int, int] = {}
    for number in range(in_groove.index(True) + 1, count):
        if not in_groove[number] and number != landing:
            first = min((position for position, _ in bars[number] ^ bars[in_groove.index(True)]), default=0)
            fills[number] = 0 if number - 1 in fills else first
    return tuple(_mark_stroke(stroke, strokes, starts, (fills, landing, beat)) for stroke in strokes)


def _extract_pattern(
    strokes: Sequence[WrittenStroke], starts: Sequence[float], bar: int, beat: float
) -> Pattern:
    return frozenset(
        (round((stroke.seconds - starts[bar]) / beat * _PLACES), stroke.surface)
        for stroke in strokes
        if stroke.bar == bar and stroke.grace_of is None
    )


def _compare_patterns(first: Pattern, second: Pattern) -> float:
    """Return the share of strokes that two bars have in common, 0 to 1."""
    return len(first & second) / len(first | second) if first | second else 0.0


def _find_landing(bars: Sequence[Pattern], in_groove: Sequence[bool]) -> int | None:
    """Return the last bar's number if it holds only its first beat and follows a bar off the groove."""
    last = len(bars) - 1
    short = bool(bars[last]) and all(position < _PLACES // 2 for position, _ in bars[last])
    return (
        last if short and (last == 2 or (last > 2 and not (in_groove[last] or in_groove[last - 1]))) else None
    )


def _mark_stroke(
    stroke: WrittenStroke,
    strokes: Sequence[WrittenStroke],
    starts: Sequence[float],
    parts: tuple[dict[int, int], int | None, float],
) -> WrittenStroke:
    fills, landing, beat = parts
    main = strokes[stroke.grace_of] if stroke.grace_of is not None else stroke
    position = round((main.seconds - starts[main.bar]) / beat * _PLACES)
    in_fill = main.bar in fills and position >= fills[main.bar]
    return replace(stroke, in_fill=in_fill, landing=main.bar == landing)
