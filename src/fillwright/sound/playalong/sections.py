"""The sections of a play-along, one for each tempo: times of every stroke and click, before any audio."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from fillwright.errors import FillwrightError
from fillwright.music.phrase import Part, Phrase
from fillwright.music.timing import TimedHit, make_clock, time_phrase
from fillwright.sound.playalong.clicks import Stretch, place_clicks
from fillwright.sound.playalong.looseness import loosen
from fillwright.sound.playalong.options import AudiblePart, Looseness, Options, Shape
from fillwright.sound.playalong.strikes import Strike, list_strikes

GAP_SECONDS = 1.0
"""Seconds from the end of a landing's bar to the next count-in of the same file; ours, not measured."""

_PRE_ROLL_STEP_SECONDS = 0.01  # the silence before a first grace note is a multiple of this; ours, not measured


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One tempo of a play-along.

    Attributes:
        tempo: tempo, in the meter's beats a minute.
        repeats: number of repetitions of the phrase.
        opens_seconds: start of the section: of its count-in, or of the silence that grace notes need.
        start_seconds: first beat of the phrase.
        end_seconds: end of its last bar, without the landing.
        rests_seconds: end of the landing's bar; `end_seconds` without a landing.
        timed: strokes as they are played, counted from `start_seconds`.
        gains: factor to the amplitude of each.
        clicks: clicks, counted from the start of the audio.
    """

    tempo: float
    repeats: int
    opens_seconds: float
    start_seconds: float
    end_seconds: float
    rests_seconds: float
    timed: tuple[TimedHit, ...]
    gains: tuple[float, ...]
    clicks: tuple[Strike, ...]

    def list_strikes(self) -> tuple[Strike, ...]:
        """Return every sound of the section, counted from the start of the audio, ascending."""
        strokes = list_strikes(self.timed, self.start_seconds, gains=self.gains)
        return tuple(sorted([*strokes, *self.clicks], key=lambda strike: strike.onset_seconds))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Joint:
    """Connection of a section with its neighbours.

    Attributes:
        opens_seconds: start of the section.
        joined: True if it follows another section, or itself, without a stop.
        lands: True if the landing is played.
        number: number of the section, from 0.
    """

    opens_seconds: float = 0.0
    joined: bool = False
    lands: bool = True
    number: int = 0


def plan_sections(
    phrase: Phrase, tempos: Sequence[float], options: Options, shape: Shape = Shape.APART
) -> tuple[Section, ...]:
    """Return the sections of a play-along, in order.

    Args:
        phrase: the phrase.
        tempos: tempos, in the meter's beats a minute.
        options: options of the play-along.
        shape: form of the file.

    Raises:
        TempoError: for a tempo that can't be played.
        FillwrightError: for a loop with a count-in or with several tempos.
    """
    if shape is Shape.LOOP:
        _check_loop(tempos, options)
        return (_plan_section(phrase, tempos[0], options, _Joint(joined=True, lands=False)),)
    sections: list[Section] = []
    for number, tempo in enumerate(tempos):
        if shape is Shape.CLIMBING:
            opens = sections[-1].end_seconds if sections else 0.0
            joint = _Joint(
                opens_seconds=opens, joined=bool(sections), lands=number == len(tempos) - 1, number=number
            )
        else:
            opens = sections[-1].rests_seconds + GAP_SECONDS if sections else 0.0
            joint = _Joint(opens_seconds=opens, number=number)
        sections.append(_plan_section(phrase, tempo, options, joint))
    return tuple(sections)


def unroll_repeats(phrase: Phrase, repeats: int) -> Phrase:
    """Return the phrase with its bars written out as often as they are played, then the landing once."""
    last = phrase.bars[-1:]
    landing = tuple(bar for bar in last if bar.part is Part.LANDING)
    body = phrase.bars[: len(phrase.bars) - len(landing)]
    return replace(phrase, bars=body * repeats + landing)


def _check_loop(tempos: Sequence[float], options: Options) -> None:
    if len(tempos) != 1:
        raise FillwrightError(f"A loop has one tempo, not {len(tempos)}.")
    if options.count_in_bars:
        raise FillwrightError(
            "A loop has no count-in, because it would repeat each time; leave the count-in out or use 0."
        )


def _plan_section(phrase: Phrase, tempo: float, options: Options, joint: _Joint) -> Section:
    unrolled = unroll_repeats(phrase, options.repeats)
    lands = joint.lands and bool(unrolled.bars) and unrolled.bars[-1].part is Part.LANDING
    bars = sum(bar.part is not Part.LANDING for bar in phrase.bars)
    body = options.repeats * bars * phrase.meter.bar
    timed, gains = _time_strokes(unrolled, tempo, options, joint)
    to_seconds = make_clock(unrolled, tempo, options.feel)
    start = joint.opens_seconds
    if not joint.joined:
        start += max(to_seconds(options.count_in_bars * phrase.meter.bar), _find_pre_roll(timed))
    sounding = [
        (stroke, gain)
        for stroke, gain in zip(timed, gains, strict=True)
        if (lands or stroke.hit.at < body) and _is_audible(phrase, stroke.hit.at, body, options.audible)
    ]
    stretch = Stretch(
        meter=phrase.meter, bars=bars, lands=lands, joined=joint.joined, start_seconds=start, clock=to_seconds
    )
    return Section(
        tempo=tempo,
        repeats=options.repeats,
        opens_seconds=joint.opens_seconds,
        start_seconds=start,
        end_seconds=start + to_seconds(body),
        rests_seconds=start + to_seconds(body + phrase.meter.bar * lands),
        timed=tuple(stroke for stroke, _ in sounding),
        gains=tuple(gain for _, gain in sounding),
        clicks=place_clicks(stretch, options),
    )


def _time_strokes(
    unrolled: Phrase, tempo: float, options: Options, joint: _Joint
) -> tuple[tuple[TimedHit, ...], tuple[float, ...]]:
    """Return every stroke of an unrolled phrase as it is played, audible or not, with its gain.

    A joined section is timed as a second repetition: the hands come from its end, and the first grace notes
    take no more time than the strokes before them leave.
    """
    if joint.joined:
        body = [bar for bar in unrolled.bars if bar.part is not Part.LANDING]
        body_length = len(body) * unrolled.meter.bar
        twice = time_phrase(replace(unrolled, bars=(*body, *unrolled.bars)), tempo, options.feel)
        body_seconds = make_clock(unrolled, tempo, options.feel)(body_length)
        timed = tuple(
            _move_earlier(stroke, body_length, body_seconds) for stroke in twice if stroke.hit.at >= body_length
        )
    else:
        timed = time_phrase(unrolled, tempo, options.feel)
    if options.looseness is Looseness.OFF:
        return timed, (1.0,) * len(timed)
    return loosen(timed, options.seed, joint.number)


def _move_earlier(stroke: TimedHit, whole_notes: Fraction, seconds: float) -> TimedHit:
    return replace(
        stroke,
        hit=stroke.hit.shift(-whole_notes),
        onset_seconds=stroke.onset_seconds - seconds,
        grace_seconds=tuple(grace - seconds for grace in stroke.grace_seconds),
    )


def _is_audible(phrase: Phrase, at: Fraction, body: Fraction, audible: AudiblePart) -> bool:
    """Return True if a stroke sounds; `at` is counted through all repeats, in whole notes."""
    if audible is AudiblePart.ALL or at >= body:
        return True
    bars = sum(bar.part is not Part.LANDING for bar in phrase.bars)
    return phrase.is_in_fill(at % (bars * phrase.meter.bar)) == (audible is AudiblePart.FILL)


def _find_pre_roll(timed: tuple[TimedHit, ...]) -> float:
    """Return the time that grace notes need before the first beat, rounded up to hundredths of a second."""
    first = min(
        (onset for stroke in timed for onset in (stroke.onset_seconds, *stroke.grace_seconds)), default=0.0
    )
    return float(np.ceil(max(0.0, -first) / _PRE_ROLL_STEP_SECONDS) * _PRE_ROLL_STEP_SECONDS)
