"""Random drumming: strokes in time, as grooves, fills, rolls and anything else.

Probabilities are ours, not measured.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from training.ear.sounds import SOUNDS, TOMS

Chance = np.random.Generator
Played = tuple[float, str, int]
"""A stroke: seconds, sound, MIDI velocity."""

_EDGE_SECONDS = 0.02  # at both ends of a phrase, without strokes
_LEAST_GAP_SECONDS = 0.055  # between the strokes of a fill
_FLAM_SECONDS = (0.010, 0.045)  # between a grace note and its main note
_FLAM_ROOM_SECONDS = 0.11  # gap of a fill in which flams are played
_COMPING = (
    "hi-hat",
    "ride bow",
    "open hi-hat",
    "foot hi-hat",
    "floor tom",
    "rim",
    "none",
    "crash",
    "ride bell",
)
_COMPING_SHARES = (0.52, 0.18, 0.08, 0.04, 0.04, 0.03, 0.05, 0.04, 0.02)


def play_phrase(chance: Chance, seconds: float, toms: Sequence[str]) -> list[Played]:
    """Return random drumming of some length on a kit with these toms, in order of time."""
    style = str(chance.choice(["grooves", "random", "rolls", "sparse"], p=[0.7, 0.12, 0.1, 0.08]))
    strokes = _STYLES[style](chance, seconds, list(toms))
    inside = [stroke for stroke in strokes if _EDGE_SECONDS <= stroke[0] < seconds - _EDGE_SECONDS]
    return sorted(inside + _play_others(chance, seconds))


def _play_others(chance: Chance, seconds: float) -> list[Played]:
    """Return claps, tambourines and clicks of a metronome, in one phrase of six."""
    if chance.random() > 1 / 6:
        return []
    step = float(chance.uniform(0.25, 1.0))
    times = np.arange(float(chance.uniform(0, step)), seconds - _EDGE_SECONDS, step)
    kept = times[chance.random(len(times)) < chance.uniform(0.2, 1.0)]
    return [
        (max(_EDGE_SECONDS, float(time + chance.normal(0, 0.004))), "not a drum", int(chance.integers(50, 120)))
        for time in kept
    ]


def _play_random(chance: Chance, seconds: float, toms: list[str]) -> Iterator[Played]:
    names = [name for name in _list_drums(toms) if chance.random() < 0.5] or ["snare"]
    rate, time = float(chance.uniform(2, 11)), float(chance.uniform(0, 0.5))
    while time < seconds:
        yield time, str(chance.choice(names)), int(chance.integers(25, 127))
        time += float(chance.exponential(1 / rate)) + (0.03 if chance.random() < 0.9 else 0)


def _play_sparse(chance: Chance, seconds: float, toms: list[str]) -> Iterator[Played]:
    time = float(chance.uniform(0, 0.5))
    while time < seconds:
        yield time, str(chance.choice(_list_drums(toms))), int(chance.integers(30, 127))
        time += float(chance.uniform(0.3, 1.3))


def _play_rolls(chance: Chance, seconds: float, toms: list[str]) -> Iterator[Played]:
    time = float(chance.uniform(0, 0.5))
    while time < seconds:
        name = str(chance.choice([*toms, "snare", "snare", "hi-hat", "kick", "ride bow"]))
        gap, velocity = float(np.exp(chance.uniform(np.log(0.045), np.log(0.3)))), int(chance.integers(40, 118))
        for number in range(int(chance.integers(3, 24))):
            soft = 10 if number % 2 else 0
            yield time + float(chance.normal(0, 0.004)), name, _limit(velocity + chance.normal(0, 9) - soft)
            time += gap
        time += float(chance.uniform(0, 0.5))


def _list_drums(toms: list[str]) -> list[str]:
    return [name for name in SOUNDS if name != "not a drum" and (name not in TOMS or name in toms)]


def _limit(velocity: float) -> int:
    return int(np.clip(velocity, 12, 127))


@dataclass(slots=True, kw_only=True)
class _Drummer:
    """The habits of one phrase: tempo, time feel, and what the hands and feet play in a groove."""

    chance: Chance
    toms: list[str]
    beat: float
    swing: float
    deviation: float
    comping: str
    division: int
    backbeat: str
    kicks: np.ndarray[tuple[int], np.dtype[np.bool_]]
    ghosts: np.ndarray[tuple[int], np.dtype[np.bool_]]
    open_share: float
    accent: float
    velocity: float
    pedal: bool

    def play(self, time: float, name: str, velocity: float) -> Played:
        """Return a stroke, off by what this drummer is usually off."""
        chance = self.chance
        return time + float(chance.normal(0, self.deviation)), name, _limit(velocity + chance.normal(0, 6))


def _choose_drummer(chance: Chance, toms: list[str]) -> _Drummer:
    beat = 60 / float(np.exp(chance.uniform(np.log(50), np.log(200))))
    comping = str(chance.choice(_COMPING, p=_COMPING_SHARES))
    division = int(chance.choice([1, 2, 3, 4], p=[0.14, 0.46, 0.12, 0.28]))
    strong = np.where(np.arange(16) % 4 == 0, 0.62, np.where(np.arange(16) % 2 == 0, 0.25, 0.08))
    between = np.where(np.arange(16) % 2 == 1, chance.uniform(0, 0.3), chance.uniform(0, 0.1))
    return _Drummer(
        chance=chance,
        toms=toms,
        beat=beat,
        swing=float(chance.choice([0, 0, 0, chance.uniform(0.05, 0.33)])),
        deviation=float(chance.uniform(0.002, 0.016)),
        comping="hi-hat" if comping == "floor tom" and comping not in toms else comping,
        division=2 if division == 4 and beat < 60 / 130 else division,
        backbeat="snare" if chance.random() < 0.87 else "rim",
        kicks=chance.random(16) < strong,
        ghosts=chance.random(16) < between,
        open_share=float(chance.uniform(0, 0.15)),
        accent=float(chance.uniform(0, 25)),
        velocity=float(chance.uniform(55, 105)),
        pedal=bool(chance.random() < 0.25),
    )


def _play_grooves(chance: Chance, seconds: float, toms: list[str]) -> Iterator[Played]:
    drummer, time = _choose_drummer(chance, toms), float(chance.uniform(0, 0.5))
    while time < seconds:
        if chance.random() < 0.58:
            yield from _play_bar(drummer, time)
            time += 4 * drummer.beat
        else:
            beats = float(chance.choice([0.5, 1, 2, 4], p=[0.1, 0.25, 0.35, 0.3]))
            yield from _play_fill(drummer, time, beats)
            time += beats * drummer.beat
            if chance.random() < 0.6:
                yield drummer.play(time, str(chance.choice(["crash", "second crash"])), 112)
                yield drummer.play(time, "kick", 100)


def _play_bar(drummer: _Drummer, start: float) -> Iterator[Played]:
    """Play one bar of the groove."""
    chance, beat = drummer.chance, drummer.beat
    for position in range(4 * drummer.division if drummer.comping != "none" else 0):
        count, part = divmod(position, drummer.division)
        late = drummer.swing / 2 if part % 2 and drummer.division in (2, 4) else 0.0
        is_open = drummer.comping == "hi-hat" and chance.random() < drummer.open_share
        name = "open hi-hat" if is_open else drummer.comping
        level = drummer.velocity * 0.9 - (drummer.accent if part else 0)
        yield drummer.play(start + beat * (count + part / drummer.division + late), name, level)
    for sixteenth in range(16):
        count, part = divmod(sixteenth, 4)
        time = start + beat * (count + part / 4 + (drummer.swing / 4 if part % 2 else 0))
        if drummer.kicks[sixteenth]:
            yield drummer.play(time, "kick", drummer.velocity + 8)
        if drummer.ghosts[sixteenth] and not (count % 2 and part == 0):
            yield drummer.play(time, "snare", chance.uniform(18, 48))
    for count in (1, 3):
        yield drummer.play(start + count * beat, drummer.backbeat, drummer.velocity + 15)
        if drummer.pedal:
            yield drummer.play(start + count * beat, "foot hi-hat", 70)
    if chance.random() < 0.18:
        yield drummer.play(start, str(chance.choice(["crash", "second crash"])), 110)


def _play_fill(drummer: _Drummer, start: float, beats: float) -> Iterator[Played]:
    """Play a fill: down the kit, about the kit, on one drum, with the foot or anyhow; some with flams."""
    chance, beat = drummer.chance, drummer.beat
    parts = int(chance.choice([2, 3, 4, 6, 8], p=[0.1, 0.2, 0.42, 0.18, 0.1]))
    while parts > 1 and beat / parts < _LEAST_GAP_SECONDS:
        parts //= 2
    count = max(1, int(beats * parts))
    route = _choose_route(drummer, count)
    density, velocity = float(chance.uniform(0.7, 1)), float(chance.uniform(60, 115))
    flams = float(chance.uniform(0, 0.3)) if chance.random() < 0.5 else 0.0
    for number, name in enumerate(route):
        if chance.random() > density:
            continue
        time = start + number * beat / parts
        level = velocity + (18 if number % parts == 0 else 0) - 15 * (number % 2)
        main = drummer.play(time, name, level)
        if chance.random() < flams and beat / parts > _FLAM_ROOM_SECONDS:
            grace = name if chance.random() < 0.75 else str(chance.choice([*drummer.toms, "snare"]))
            yield (
                main[0] - float(chance.uniform(*_FLAM_SECONDS)),
                grace,
                _limit(level * chance.uniform(0.4, 0.8)),
            )
        yield main
        if chance.random() < 0.06:
            yield drummer.play(time, "kick", 90)
    if drummer.pedal:
        for number in range(int(beats)):
            yield drummer.play(start + number * beat, "foot hi-hat", 70)


def _choose_route(drummer: _Drummer, count: int) -> list[str]:
    """Return the drums of a fill of so many strokes."""
    chance = drummer.chance
    voices = ["snare", *(name for name in TOMS if name in drummer.toms)]
    style = str(chance.choice(["down", "about", "mixed", "foot", "one"]))
    if style == "down":
        return [voices[min(len(voices) - 1, number * len(voices) // count)] for number in range(count)]
    if style == "one":
        return [str(chance.choice(voices))] * count
    if style == "foot":
        return ["kick" if chance.random() < 0.35 else str(chance.choice(voices)) for _ in range(count)]
    if style == "about":
        steps = np.where(chance.random(count) < 0.4, chance.choice([-1, 1], count), 0)
        return [voices[place] for place in np.abs(np.cumsum(steps)) % len(voices)]
    rare = ["kick", "crash", "hi-hat", "open hi-hat", "rim", "second crash"]
    return [str(chance.choice(voices if chance.random() < 0.8 else rare)) for _ in range(count)]


_STYLES = {"grooves": _play_grooves, "random": _play_random, "rolls": _play_rolls, "sparse": _play_sparse}
