"""Clicks: the count-in, and what goes on after it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

from fillwright.music.meter import Meter
from fillwright.sound.model.instrument import ACCENT_VELOCITY
from fillwright.sound.playalong.options import Click, Options
from fillwright.sound.playalong.strikes import Strike

FADE_DB = 24.0
"""By how much a fading click would be softer the last time; there it is silent."""

_BETWEEN = 10 ** (-8 / 20)
_EIGHTH = Fraction(1, 8)
_FEWEST_BEATS = 3


class ClickPlace(Enum):
    """Where in the bar a click falls, with the sound it has."""

    BAR = "accented click"
    BEAT = "click"
    BETWEEN = "low click"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """The time that clicks run through.

    Attributes:
        meter: of every bar.
        bars: of the phrase once, the landing not counted.
        lands: whether a landing follows the last time.
        joined: whether other bars go before, so that there is no count-in.
        start_seconds: where the first beat falls in the audio.
        clock: from places in whole notes, counted from the first beat, to seconds.
    """

    meter: Meter
    bars: int
    lands: bool
    joined: bool
    start_seconds: float
    clock: Callable[[Fraction], float]


def place_clicks(stretch: Stretch, options: Options) -> tuple[Strike, ...]:
    """Every click of a stretch, ascending: the count-in, what is asked for, the landing's first beat."""
    made = [] if stretch.joined else list(_count_in(stretch, options))
    for turn in range(options.repeats):
        loudness = _loudness(options, turn)
        if loudness:
            for bar in range(turn * stretch.bars, (turn + 1) * stretch.bars):
                made += [
                    _strike(stretch, options, bar, click, loudness) for click in _going_on(stretch, options)
                ]
    if stretch.lands and options.click in (Click.BEATS, Click.EIGHTHS):
        made.append(
            _strike(stretch, options, options.repeats * stretch.bars, (Fraction(0), ClickPlace.BAR), 1.0)
        )
    return tuple(made)


def _count_in(stretch: Stretch, options: Options) -> Iterator[Strike]:
    """The bars before."""
    places = _counted(stretch.meter, options)
    for bar in range(-options.count_in_bars, 0):
        for click in places:
            yield _strike(stretch, options, bar, click, 1.0)


def list_count_in_places(meter: Meter, options: Options) -> tuple[Fraction, ...]:
    """Where a bar of the count-in clicks, in whole notes from its start."""
    return tuple(at for at, _ in _counted(meter, options))


def _counted(meter: Meter, options: Options) -> tuple[tuple[Fraction, ClickPlace], ...]:
    """Every beat; two clicks a bar say too little of a tempo, so such bars are counted in eighths."""
    thin = len(meter.beats) < _FEWEST_BEATS
    return _eighths(meter) if thin or options.click is Click.EIGHTHS else _beats(meter)


def _going_on(stretch: Stretch, options: Options) -> tuple[tuple[Fraction, ClickPlace], ...]:
    """Where a bar clicks after the count-in."""
    match options.click:
        case Click.OFF:
            return ()
        case Click.EIGHTHS:
            return _eighths(stretch.meter)
        case Click.BACKBEATS:
            return _beats(stretch.meter)[1::2]
        case _:
            return _beats(stretch.meter)


def _beats(meter: Meter) -> tuple[tuple[Fraction, ClickPlace], ...]:
    return tuple(
        (at, ClickPlace.BEAT if number else ClickPlace.BAR) for number, at in enumerate(meter.beat_starts)
    )


def _eighths(meter: Meter) -> tuple[tuple[Fraction, ClickPlace], ...]:
    beats = dict(_beats(meter))
    places = [number * _EIGHTH for number in range(int(meter.bar / _EIGHTH))]
    return tuple((at, beats.get(at, ClickPlace.BETWEEN)) for at in places)


def _loudness(options: Options, turn: int) -> float:
    """The click's amplitude while the phrase is played for the nth time, from 0."""
    if options.click is not Click.FADING:
        return 1.0
    last = options.repeats - 1
    return 0.0 if turn == last else float(10 ** (-FADE_DB * turn / last / 20))


def _strike(
    stretch: Stretch, options: Options, bar: int, click: tuple[Fraction, ClickPlace], loudness: float
) -> Strike:
    """One click; without a grid of pitches what lies between beats is the same click, softer."""
    at, place = click
    softer = place is ClickPlace.BETWEEN and not options.click_grid
    onset = stretch.start_seconds + stretch.clock(bar * stretch.meter.bar + at)
    return Strike(
        name=(ClickPlace.BEAT if softer else place).value,
        onset_seconds=max(0.0, onset),
        velocity=ACCENT_VELOCITY,
        gain=loudness * (_BETWEEN if softer else 1.0),
    )
