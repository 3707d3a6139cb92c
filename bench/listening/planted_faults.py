"""The 24 kinds of fault that are planted in takes, each a change of a well played repetition.

A `PlantedFault` picks pieces in which it can be planted, changes the phrase that is played, the style of the
player, or the sounds of one repetition, and lists the reports that name it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from bench.listening.pieces import Piece
from bench.listening.simulated_player import PlayedSound
from fillwright.listen.written import WrittenPhrase, WrittenStroke
from fillwright.music.stroke import Level

Sounds = list[PlayedSound]
SoundChange = Callable[[WrittenPhrase, Sounds, np.random.Generator], Sounds]
PieceTest = Callable[[Piece, WrittenPhrase], bool]

# All ours, not measured.
_LANDING_SECONDS = 0.06  # a landing early or late
_UNEVEN_SECONDS = 0.03  # standard deviation of an uneven fill
_MOST_UNEVEN_SHARE = 0.35  # of the gap to a neighbour, at most
_EXTRA_APART_SECONDS = 0.06  # from every other stroke
_EXTRA_VELOCITY = 85  # MIDI velocity of an extra stroke
_LEAST_LONG_SECONDS = 1.4  # of a fill whose rush can be measured
_SWUNG = (0.6, 0.75)  # places in the beat of a swung eighth
_OTHER_DRUM = {"snare": "floor tom", "high tom": "floor tom", "mid tom": "snare", "floor tom": "high tom"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantedFault:
    """One kind of planted fault.

    Attributes:
        name: of the fault; "" for a clean take.
        named: keys of the first sentence that name it, and "refused: ..." for refusals that do.
        fits: True for a piece in which it can be planted.
        change: of one repetition's sounds, times from the start of the repetition.
        style: settings of the player's style.
        scale: factor on all times.
        once: True if it is planted in a take of one repetition only.
        other: True to play another fill.
    """

    name: str
    named: frozenset[str] = frozenset()
    fits: PieceTest = lambda _piece, _written: True
    change: SoundChange | None = None
    style: dict[str, Any] = field(default_factory=dict)
    scale: float = 1.0
    once: bool = False
    other: bool = False


def list_fill(written: WrittenPhrase) -> list[int]:
    """Return the indices of the fill's main strokes."""
    strokes = enumerate(written.strokes)
    return [index for index, stroke in strokes if stroke.in_fill and stroke.grace_of is None]


def _find_fill_start(written: WrittenPhrase) -> float:
    return min(written.strokes[index].seconds for index in list_fill(written))


def _get_beat(written: WrittenPhrase) -> float:
    return written.beats[1] - written.beats[0]


def _list_alone(written: WrittenPhrase) -> list[int]:
    """Return the fill's main strokes that are alone in their moment, the ends of the fill left out."""
    times = [stroke.seconds for stroke in written.strokes if stroke.grace_of is None]
    alone = [index for index in list_fill(written) if times.count(written.strokes[index].seconds) == 1]
    graced = {stroke.grace_of for stroke in written.strokes}
    return [
        index
        for index in alone[1:-1]
        if index not in graced and written.strokes[index].level is not Level.GHOST
    ]


def _leave_out(count: int) -> SoundChange:
    def change(written: WrittenPhrase, sounds: Sounds, chance: np.random.Generator) -> Sounds:
        left_out = set(map(int, chance.choice(_list_alone(written), count, replace=False)))
        return [sound for sound in sounds if sound.written not in left_out]

    return change


def _add_extra(_written: WrittenPhrase, sounds: Sounds, chance: np.random.Generator) -> Sounds:
    added = list(sounds)
    start, end = sounds[0].seconds, sounds[-1].seconds
    for _ in range(1000):
        seconds = float(chance.uniform(start, end))
        if len(added) == len(sounds) + 3:
            break
        if min(abs(sound.seconds - seconds) for sound in added) > _EXTRA_APART_SECONDS:
            added.append(PlayedSound(seconds=seconds, surface="snare", velocity=_EXTRA_VELOCITY, role="extra"))
    return added


def _make_uneven(written: WrittenPhrase, sounds: Sounds, chance: np.random.Generator) -> Sounds:
    times = sorted({written.strokes[index].seconds for index in list_fill(written)})
    gaps = np.diff([*times, times[-1] + 0.5])
    most = _MOST_UNEVEN_SHARE * np.minimum(gaps, np.insert(gaps[:-1], 0, 0.5))
    away = np.clip(chance.normal(0, _UNEVEN_SECONDS, len(times)), -most, most)
    shift = dict(zip(times, map(float, away), strict=True))

    def find_shift(stroke: WrittenStroke) -> float:
        main = stroke if stroke.grace_of is None else written.strokes[stroke.grace_of]
        return shift.get(main.seconds, 0.0) if main.in_fill else 0.0

    return [
        replace(sound, seconds=sound.seconds + find_shift(written.strokes[sound.written]))
        if sound.written is not None
        else sound
        for sound in sounds
    ]


def _move_landing(seconds: float) -> SoundChange:
    def change(written: WrittenPhrase, sounds: Sounds, _chance: np.random.Generator) -> Sounds:
        return [
            replace(sound, seconds=sound.seconds + seconds)
            if sound.written is not None and written.strokes[sound.written].landing
            else sound
            for sound in sounds
        ]

    return change


def _leave_out_graces(_written: WrittenPhrase, sounds: Sounds, _chance: np.random.Generator) -> Sounds:
    return [sound for sound in sounds if sound.role != "grace"]


def _flatten_accents(written: WrittenPhrase, sounds: Sounds, chance: np.random.Generator) -> Sounds:
    return [
        replace(sound, velocity=round(chance.normal(Level.TAP.velocity, 5)))
        if sound.written is not None
        and written.strokes[sound.written].in_fill
        and written.strokes[sound.written].level is Level.ACCENT
        else sound
        for sound in sounds
    ]


def _play_on_snare(written: WrittenPhrase, sounds: Sounds, _chance: np.random.Generator) -> Sounds:
    return [
        replace(sound, surface="snare", right_surface=False)
        if sound.written is not None
        and written.strokes[sound.written].in_fill
        and written.strokes[sound.written].surface.endswith("tom")
        else sound
        for sound in sounds
    ]


def _swap_drums(written: WrittenPhrase, sounds: Sounds, chance: np.random.Generator) -> Sounds:
    fill = [index for index in _list_alone(written) if written.strokes[index].surface in _OTHER_DRUM]
    swapped = set(map(int, chance.choice(fill, min(3, len(fill)), replace=False)))
    return [
        replace(sound, surface=_OTHER_DRUM[sound.surface], right_surface=False)
        if sound.written in swapped
        else sound
        for sound in sounds
    ]


def _drop_kick(written: WrittenPhrase, sounds: Sounds, _chance: np.random.Generator) -> Sounds:
    start = _find_fill_start(written)
    return [
        sound
        for sound in sounds
        if not (
            sound.surface == "kick"
            and sound.written is not None
            and written.strokes[sound.written].seconds < start
        )
    ]


def _find_written_seconds(written: WrittenPhrase, sound: PlayedSound) -> float:
    """Return the written time of a sound; of a bounce, that of the last stroke before it."""
    if sound.written is None:
        return -1.0
    stroke = written.strokes[sound.written]
    return written.strokes[stroke.grace_of].seconds if stroke.grace_of is not None else stroke.seconds


def _wait(written: WrittenPhrase, sounds: Sounds, seconds_in_phrase: float, wait: float) -> Sounds:
    """Return the sounds with everything from a written time on played later."""
    first = min(
        sound.seconds for sound in sounds if _find_written_seconds(written, sound) >= seconds_in_phrase - 1e-6
    )
    return [
        replace(sound, seconds=sound.seconds + wait) if sound.seconds >= first - 1e-6 else sound
        for sound in sounds
    ]


def _hesitate(written: WrittenPhrase, sounds: Sounds, chance: np.random.Generator) -> Sounds:
    beats = float(chance.choice([0.5, 1.0]))
    return _wait(written, sounds, _find_fill_start(written), beats * _get_beat(written))


def _stumble(written: WrittenPhrase, sounds: Sounds, chance: np.random.Generator) -> Sounds:
    """Stop in the middle of the fill, then repeat the last stroke and go on."""
    fill = list_fill(written)
    index = fill[len(fill) // 2]
    seconds = written.strokes[index].seconds
    wait = float(chance.uniform(0.5, 0.9)) * _get_beat(written)
    before = [sound for sound in sounds if 0 <= _find_written_seconds(written, sound) < seconds - 1e-6]
    last = max(before, key=lambda sound: sound.seconds)
    waited = _wait(written, sounds, seconds, wait)
    gap = min(0.2, wait / 2)
    on = min(sound.seconds for sound in waited if _find_written_seconds(written, sound) >= seconds - 1e-6)
    return [*waited, replace(last, seconds=on - gap, written=None, role="extra")]


def _leave_out_bar(written: WrittenPhrase, sounds: Sounds, _chance: np.random.Generator) -> Sounds:
    """Leave out the second bar of the groove."""
    low, high = written.bar_starts[1:3]
    left = [sound for sound in sounds if not low - 1e-6 <= _find_written_seconds(written, sound) < high - 1e-6]
    return _wait(written, left, high, -(high - low))


def _stop_early(written: WrittenPhrase, sounds: Sounds, chance: np.random.Generator) -> Sounds:
    fill = list_fill(written)
    index = fill[int(len(fill) * chance.uniform(0.4, 0.8))]
    until = written.strokes[index].seconds
    return [sound for sound in sounds if _find_written_seconds(written, sound) < until]


def _join_late(written: WrittenPhrase, sounds: Sounds, chance: np.random.Generator) -> Sounds:
    start = _find_fill_start(written)
    from_seconds = float(chance.uniform(0.3, 0.6)) * start
    return [sound for sound in sounds if _find_written_seconds(written, sound) >= from_seconds]


def _play_straight(written: WrittenPhrase, sounds: Sounds, _chance: np.random.Generator) -> Sounds:
    """Play the groove's swung eighths straight."""
    beat = _get_beat(written)

    def find_shift(sound: PlayedSound) -> float:
        if sound.written is None or written.strokes[sound.written].in_fill:
            return 0.0
        part = (_find_written_seconds(written, sound) / beat) % 1
        return (0.5 - part) * beat if _SWUNG[0] < part < _SWUNG[1] else 0.0

    return [replace(sound, seconds=sound.seconds + find_shift(sound)) for sound in sounds]


def _has_flams(piece: Piece, written: WrittenPhrase) -> bool:
    graced = [stroke.grace_of for stroke in written.strokes if stroke.grace_of is not None]
    return "flam" in piece.name and len(graced) == len(set(graced)) >= 3


def _has_toms(_piece: Piece, written: WrittenPhrase) -> bool:
    toms = [index for index in list_fill(written) if written.strokes[index].surface.endswith("tom")]
    return len(toms) >= 4


def _has_accents(_piece: Piece, written: WrittenPhrase) -> bool:
    counts: dict[tuple[str, Level], int] = {}
    for index in list_fill(written):
        stroke = written.strokes[index]
        counts[stroke.surface, stroke.level] = counts.get((stroke.surface, stroke.level), 0) + 1
    snare = min(counts.get(("snare", Level.ACCENT), 0), counts.get(("snare", Level.TAP), 0))
    return snare >= 3


def _is_long(_piece: Piece, written: WrittenPhrase) -> bool:
    times = [written.strokes[index].seconds for index in list_fill(written)]
    buzzes = any(stroke.buzz for stroke in written.strokes)
    return max(times) - min(times) >= _LEAST_LONG_SECONDS and len(times) >= 6 and not buzzes


def _has_strokes(_piece: Piece, written: WrittenPhrase) -> bool:
    return len(_list_alone(written)) >= 5 and not any(stroke.buzz for stroke in written.strokes)


def _has_groove_bars(_piece: Piece, written: WrittenPhrase) -> bool:
    return len(written.bar_starts) >= 6


def _is_swung(piece: Piece, _written: WrittenPhrase) -> bool:
    return piece.feel.swing.denominator != 2


_MISSING = frozenset({"missing_one", "missing_some"})
_WAITED = frozenset({"waited", "stumbled"})
_GRACES = frozenset({"missing_graces", "graces_not_heard", "flams_narrow"})

FAULTS = (
    PlantedFault(name="one missing", named=_MISSING, fits=_has_strokes, change=_leave_out(1)),
    PlantedFault(name="three missing", named=_MISSING, fits=_has_strokes, change=_leave_out(3)),
    PlantedFault(
        name="extra strokes",
        named=frozenset({"extra_one", "extra_some"}),
        fits=_has_strokes,
        change=_add_extra,
    ),
    PlantedFault(
        name="rush 6 %",
        named=frozenset({"rush", "rush_only", "rush_from"}),
        fits=_is_long,
        style={"rush_percent": 6.0},
    ),
    PlantedFault(
        name="drag 6 %",
        named=frozenset({"drag", "drag_only", "drag_from"}),
        fits=_is_long,
        style={"rush_percent": -6.0},
    ),
    PlantedFault(name="uneven fill", named=frozenset({"uneven"}), fits=_is_long, change=_make_uneven),
    PlantedFault(
        name="landing early", named=frozenset({"landing_off"}), change=_move_landing(-_LANDING_SECONDS)
    ),
    PlantedFault(name="landing late", named=frozenset({"landing_off"}), change=_move_landing(_LANDING_SECONDS)),
    PlantedFault(name="flams flat", named=_GRACES, fits=_has_flams, style={"flam_ms": (1.0, 4.0)}),
    PlantedFault(
        name="flams wide", named=frozenset({"flams_wide"}), fits=_has_flams, style={"flam_ms": (82.0, 88.0)}
    ),
    PlantedFault(name="graces left out", named=_GRACES, fits=_has_flams, change=_leave_out_graces),
    PlantedFault(
        name="accents flat",
        named=frozenset({"accents_flat", "accents_upside"}),
        fits=_has_accents,
        change=_flatten_accents,
    ),
    PlantedFault(
        name="wrong drum",
        named=frozenset({"wrong_one", "wrong_some"}),
        fits=lambda piece, written: _has_toms(piece, written) and _has_strokes(piece, written),
        change=_swap_drums,
    ),
    PlantedFault(
        name="snare alone",
        named=frozenset({"wrong_one", "wrong_some", "wrong_route"}),
        fits=_has_toms,
        change=_play_on_snare,
    ),
    PlantedFault(name="kick missing", named=frozenset({"missing_some", "missing_drum"}), change=_drop_kick),
    PlantedFault(name="hesitation", named=_WAITED, fits=_is_long, change=_hesitate),
    PlantedFault(name="stumble", named=_WAITED, fits=_is_long, change=_stumble),
    PlantedFault(
        name="bar left out", named=frozenset({"bar_left_out"}), fits=_has_groove_bars, change=_leave_out_bar
    ),
    PlantedFault(name="half tempo", named=frozenset({"refused: tempo", "other_tempo"}), scale=2.0),
    PlantedFault(name="tempo +28 %", named=frozenset({"refused: tempo", "other_tempo"}), scale=1 / 1.28),
    PlantedFault(
        name="another fill",
        named=frozenset({"refused: wrong phrase", "missing_some", "other_fill"}),
        other=True,
    ),
    PlantedFault(
        name="stopped early",
        named=frozenset({"refused: too short", "refused: no fill", "missing_landing", "stopped_early"}),
        fits=_is_long,
        change=_stop_early,
        once=True,
    ),
    PlantedFault(
        name="joined late",
        named=frozenset({"joined_late"}),
        fits=_has_strokes,
        change=_join_late,
        once=True,
    ),
    PlantedFault(
        name="straight for swing", named=frozenset({"straight"}), fits=_is_swung, change=_play_straight
    ),
)
"""The 24 kinds, in the order of the table."""

CLEAN = PlantedFault(name="clean")
"""No fault at all."""
