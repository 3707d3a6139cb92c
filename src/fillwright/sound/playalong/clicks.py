"""Clicks: the count-in, and the clicks that go on after it."""

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
"""Decibels that a fading click loses up to the last repetition, in which it is silent; ours, not measured."""

_BETWEEN = 10 ** (-8 / 20)  # amplitude of a click between beats, -8 dB; ours, not measured
_EIGHTH = Fraction(1, 8)  # of a whole note
_FEWEST_BEATS = 3  # beats a bar from which a count-in in beats is clear enough; ours, not measured


class ClickPlace(Enum):
    """Place of a click in the bar; its value is the name of the sound."""

    BAR = "accented click"
    BEAT = "click"
    BETWEEN = "low click"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of time with clicks.

    Attributes:
        meter: meter of every bar.
        bars: bars of the phrase, without repeats and landing.
        lands: True if a landing follows the last repetition.
        joined: True if other bars come before, so that there is no count-in.
        start_seconds: time of the first beat in the audio.
        clock: function from a time in whole notes after the first beat to seconds.
    """

    meter: Meter
    bars: int
    lands: bool
    joined: bool
    start_seconds: float
    clock: Callable[[Fraction], float]


def place_clicks(stretch: Stretch, options: Options) -> tuple[Strike, ...]:
    """Return every click of a stretch, ascending: the count-in, the phrase, the landing's first beat."""
    clicks = [] if stretch.joined else list(_count_in(stretch, options))
    for repetition in range(options.repeats):
        gain = _find_gain(options, repetition)
        if gain:
            for bar in range(repetition * stretch.bars, (repetition + 1) * stretch.bars):
                clicks += [
                    _make_click(stretch, options, bar, click, gain) for click in _list_clicks(stretch, options)
                ]
    if stretch.lands and options.click in (Click.BEATS, Click.EIGHTHS):
        clicks.append(
            _make_click(stretch, options, options.repeats * stretch.bars, (Fraction(0), ClickPlace.BAR), 1.0)
        )
    return tuple(clicks)


def _count_in(stretch: Stretch, options: Options) -> Iterator[Strike]:
    """Yield the clicks of the count-in."""
    clicks = _list_count_in(stretch.meter, options)
    for bar in range(-options.count_in_bars, 0):
        for click in clicks:
            yield _make_click(stretch, options, bar, click, 1.0)


def list_count_in_places(meter: Meter, options: Options) -> tuple[Fraction, ...]:
    """Return the times of the clicks in a bar of the count-in, in whole notes from its start."""
    return tuple(at for at, _ in _list_count_in(meter, options))


def _list_count_in(meter: Meter, options: Options) -> tuple[tuple[Fraction, ClickPlace], ...]:
    """Return a click on every beat; bars of one or two beats are counted in eighths, for a clear tempo."""
    sparse = len(meter.beats) < _FEWEST_BEATS
    return _list_eighths(meter) if sparse or options.click is Click.EIGHTHS else _list_beats(meter)


def _list_clicks(stretch: Stretch, options: Options) -> tuple[tuple[Fraction, ClickPlace], ...]:
    """Return the clicks of a bar after the count-in, in whole notes from its start."""
    match options.click:
        case Click.OFF:
            return ()
        case Click.EIGHTHS:
            return _list_eighths(stretch.meter)
        case Click.BACKBEATS:
            return _list_beats(stretch.meter)[1::2]
        case _:
            return _list_beats(stretch.meter)


def _list_beats(meter: Meter) -> tuple[tuple[Fraction, ClickPlace], ...]:
    return tuple(
        (at, ClickPlace.BEAT if number else ClickPlace.BAR) for number, at in enumerate(meter.beat_starts)
    )


def _list_eighths(meter: Meter) -> tuple[tuple[Fraction, ClickPlace], ...]:
    beats = dict(_list_beats(meter))
    times = [number * _EIGHTH for number in range(int(meter.bar / _EIGHTH))]
    return tuple((at, beats.get(at, ClickPlace.BETWEEN)) for at in times)


def _find_gain(options: Options, repetition: int) -> float:
    """Return the amplitude of the clicks in a repetition of the phrase, counted from 0."""
    if options.click is not Click.FADING:
        return 1.0
    last = options.repeats - 1
    return 0.0 if repetition == last else float(10 ** (-FADE_DB * repetition / last / 20))


def _make_click(
    stretch: Stretch, options: Options, bar: int, click: tuple[Fraction, ClickPlace], gain: float
) -> Strike:
    """Return one click; without `click_grid`, a click between beats is a beat's click, softer."""
    at, click_place = click
    softer = click_place is ClickPlace.BETWEEN and not options.click_grid
    onset = stretch.start_seconds + stretch.clock(bar * stretch.meter.bar + at)
    return Strike(
        name=(ClickPlace.BEAT if softer else click_place).value,
        onset_seconds=max(0.0, onset),
        velocity=ACCENT_VELOCITY,
        gain=gain * (_BETWEEN if softer else 1.0),
    )
