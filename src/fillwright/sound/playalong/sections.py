"""When everything sounds: the sections of a play-along, one for each tempo, before any sound is made."""

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
"""From the end of a landing's bar to the next count-in, where one file holds several tempos."""

_PRE_ROLL_STEP_SECONDS = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One tempo of a play-along.

    Attributes:
        tempo: in the meter's beats a minute.
        repeats: how often the phrase is played.
        opens_seconds: where the count-in, or what grace notes need, begins.
        start_seconds: where the first beat of the phrase falls.
        end_seconds: where its last bar ends, the landing not counted.
        rests_seconds: where the landing's bar ends; `end_seconds` where there is no landing.
        timed: what is played, as it is played, from `start_seconds` on.
        gains: a factor to the amplitude of each.
        clicks: from the start of the audio.
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
        """Everything that sounds, from the start of the audio, ascending."""
        played = list_strikes(self.timed, self.start_seconds, gains=self.gains)
        return tuple(sorted([*played, *self.clicks], key=lambda strike: strike.onset_seconds))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Joint:
    """How a section hangs together with its neighbours.

    Attributes:
        opens_seconds: where it begins.
        joined: whether it follows a section, or itself, without a stop.
        lands: whether the landing is played.
        number: of the section, from 0.
    """

    opens_seconds: float = 0.0
    joined: bool = False
    lands: bool = True
    number: int = 0


def plan_sections(
    phrase: Phrase, tempos: Sequence[float], options: Options, shape: Shape = Shape.APART
) -> tuple[Section, ...]:
    """The sections of a play-along, in order.

    Args:
        phrase: what is played.
        tempos: in the meter's beats a minute.
        options: what is asked for.
        shape: how several tempos become one file.

    Raises:
        TempoError: for a tempo that can't be played.
        FillwrightError: for a loop with a count-in or with several tempos.
    """
    if shape is Shape.LOOP:
        _check_loop(tempos, options)
        return (_section(phrase, tempos[0], options, _Joint(joined=True, lands=False)),)
    made: list[Section] = []
    for number, tempo in enumerate(tempos):
        if shape is Shape.CLIMBING:
            opens = made[-1].end_seconds if made else 0.0
            joint = _Joint(
                opens_seconds=opens, joined=bool(made), lands=number == len(tempos) - 1, number=number
            )
        else:
            opens = made[-1].rests_seconds + GAP_SECONDS if made else 0.0
            joint = _Joint(opens_seconds=opens, number=number)
        made.append(_section(phrase, tempo, options, joint))
    return tuple(made)


def unroll_repeats(phrase: Phrase, repeats: int) -> Phrase:
    """The phrase with its bars written out as often as they are played, the landing last and once."""
    last = phrase.bars[-1:]
    landing = tuple(bar for bar in last if bar.part is Part.LANDING)
    body = phrase.bars[: len(phrase.bars) - len(landing)]
    return replace(phrase, bars=body * repeats + landing)


def _check_loop(tempos: Sequence[float], options: Options) -> None:
    if len(tempos) != 1:
        raise FillwrightError(f"A loop has one tempo; {len(tempos)} were given.")
    if options.count_in_bars:
        raise FillwrightError(
            "A loop has no count-in, which would come round again each time; leave it out or give 0."
        )


def _section(phrase: Phrase, tempo: float, options: Options, joint: _Joint) -> Section:
    whole = unroll_repeats(phrase, options.repeats)
    lands = joint.lands and bool(whole.bars) and whole.bars[-1].part is Part.LANDING
    bars = sum(bar.part is not Part.LANDING for bar in phrase.bars)
    body = options.repeats * bars * phrase.meter.bar
    timed, gains = _played(whole, tempo, options, joint)
    at = make_clock(whole, tempo, options.feel)
    start = joint.opens_seconds
    if not joint.joined:
        start += max(at(options.count_in_bars * phrase.meter.bar), _pre_roll(timed))
    kept = [
        (one, gain)
        for one, gain in zip(timed, gains, strict=True)
        if (lands or one.hit.at < body) and _is_heard(phrase, one.hit.at, body, options.heard)
    ]
    stretch = Stretch(
        meter=phrase.meter, bars=bars, lands=lands, joined=joint.joined, start_seconds=start, clock=at
    )
    return Section(
        tempo=tempo,
        repeats=options.repeats,
        opens_seconds=joint.opens_seconds,
        start_seconds=start,
        end_seconds=start + at(body),
        rests_seconds=start + at(body + phrase.meter.bar * lands),
        timed=tuple(one for one, _ in kept),
        gains=tuple(gain for _, gain in kept),
        clicks=place_clicks(stretch, options),
    )


def _played(
    whole: Phrase, tempo: float, options: Options, joint: _Joint
) -> tuple[tuple[TimedHit, ...], tuple[float, ...]]:
    """Everything of an unrolled phrase as it is played, heard or not.

    Where other bars go before, it is timed as if it came for the second time: the hands come from its own end,
    and the first grace notes have no more room than they leave.
    """
    if joint.joined:
        body = [bar for bar in whole.bars if bar.part is not Part.LANDING]
        before = len(body) * whole.meter.bar
        twice = time_phrase(replace(whole, bars=(*body, *whole.bars)), tempo, options.feel)
        ahead = make_clock(whole, tempo, options.feel)(before)
        timed = tuple(_earlier(one, before, ahead) for one in twice if one.hit.at >= before)
    else:
        timed = time_phrase(whole, tempo, options.feel)
    if options.looseness is Looseness.OFF:
        return timed, (1.0,) * len(timed)
    return loosen(timed, options.seed, joint.number)


def _earlier(one: TimedHit, whole_notes: Fraction, seconds: float) -> TimedHit:
    return replace(
        one,
        hit=one.hit.shift(-whole_notes),
        onset_seconds=one.onset_seconds - seconds,
        grace_seconds=tuple(grace - seconds for grace in one.grace_seconds),
    )


def _is_heard(phrase: Phrase, at: Fraction, body: Fraction, heard: AudiblePart) -> bool:
    """Whether a stroke sounds; its place is counted through all repeats."""
    if heard is AudiblePart.ALL or at >= body:
        return True
    bars = sum(bar.part is not Part.LANDING for bar in phrase.bars)
    return phrase.is_in_fill(at % (bars * phrase.meter.bar)) == (heard is AudiblePart.FILL)


def _pre_roll(timed: tuple[TimedHit, ...]) -> float:
    """The time before the first beat that a grace note needs there, in whole hundredths of a second."""
    first = min((onset for one in timed for onset in (one.onset_seconds, *one.grace_seconds)), default=0.0)
    return float(np.ceil(max(0.0, -first) / _PRE_ROLL_STEP_SECONDS) * _PRE_ROLL_STEP_SECONDS)
