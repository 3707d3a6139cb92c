"""Play-alongs: count-in, click, the phrase as often as asked, the landing, the tail."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from fillwright.errors import FillwrightError
from fillwright.music.meter import Meter
from fillwright.music.phrase import Part, Phrase
from fillwright.music.timing import STRAIGHT, Feel, Timed, timeline, whole_note_seconds
from fillwright.sound.audio import Audio
from fillwright.sound.bank import SoundBank
from fillwright.sound.instrument import ACCENT, Samples
from fillwright.sound.mix import mix
from fillwright.sound.modal import RATE
from fillwright.sound.peak import held
from fillwright.sound.strikes import Strike, strikes

MOST_COUNT_IN_BARS = 2
MOST_REPEATS = 64
TAIL_SECONDS = 2.5
"""The longest that anything rings on after the landing."""

_FADE_SECONDS = 0.8
_PRE_ROLL_STEP_SECONDS = 0.01


class Click(Enum):
    """When a click sounds; during the count-in it always does."""

    OFF = "off"
    BEATS = "beats"


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """How a play-along is made.

    Attributes:
        count_in_bars: 0 to 2 bars of clicks before the phrase.
        click: whether the click goes on.
        feel: swing and flams.
        repeats: how often the phrase is played; the landing comes once, at the very end.
    """

    count_in_bars: int = 1
    click: Click = Click.OFF
    feel: Feel = STRAIGHT
    repeats: int = 1

    def __post_init__(self) -> None:
        """Refuse what can't be rendered."""
        if not 0 <= self.count_in_bars <= MOST_COUNT_IN_BARS:
            raise FillwrightError(
                f"A count-in of {self.count_in_bars} bars can't be rendered; it has 0 to {MOST_COUNT_IN_BARS}."
            )
        if not 1 <= self.repeats <= MOST_REPEATS:
            raise FillwrightError(
                f"A phrase can't be played {self.repeats} times; it is played 1 to {MOST_REPEATS} times."
            )


PLAIN = Options()


def render(phrase: Phrase, tempo: float, options: Options = PLAIN, *, bank: SoundBank | None = None) -> Audio:
    """A phrase as audio.

    Each attack lies at round((start_seconds + onset) * 44100), the onsets being those that
    `music.timing.timeline` gives for the phrase as `unrolled`.

    Args:
        phrase: what is played.
        tempo: in the meter's beats a minute.
        options: count-in, click, feel, repeats.
        bank: where the sounds come from; the modelled kit by default.

    Returns:
        Audio at the fixed level, quieter only where its true peak would pass `peak.CEILING_DB`.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    whole = unrolled(phrase, options.repeats)
    timed = timeline(whole, tempo, options.feel)
    bar_seconds = float(phrase.meter.bar) * whole_note_seconds(phrase.meter, tempo)
    start = max(options.count_in_bars * bar_seconds, _pre_roll(timed))
    clicks = _clicks(whole, tempo, options, start)
    played = strikes(timed, start)
    everything = sorted([*played, *clicks], key=lambda strike: strike.onset_seconds)
    body = start + bar_seconds * sum(bar.part is not Part.LANDING for bar in whole.bars)
    latest = max([body, *(strike.onset_seconds for strike in everything[-1:])])
    samples = mix(everything, bank=bank)
    return Audio(samples=held(_ended(samples, body, latest + TAIL_SECONDS)), start_seconds=start)


def render_ladder(
    phrase: Phrase, tempos: Iterable[float], options: Options = PLAIN, *, bank: SoundBank | None = None
) -> tuple[Audio, ...]:
    """One phrase at several tempos, as `render` makes it."""
    return tuple(render(phrase, tempo, options, bank=bank) for tempo in tempos)


def unrolled(phrase: Phrase, repeats: int) -> Phrase:
    """The phrase with its bars written out as often as they are played, the landing last and once."""
    last = phrase.bars[-1:]
    landing = tuple(bar for bar in last if bar.part is Part.LANDING)
    body = phrase.bars[: len(phrase.bars) - len(landing)]
    return replace(phrase, bars=body * repeats + landing)


def _pre_roll(timed: tuple[Timed, ...]) -> float:
    """The time before the first beat that a grace note needs there, in whole hundredths of a second."""
    first = min((onset for one in timed for onset in (one.onset_seconds, *one.grace_seconds)), default=0.0)
    return float(np.ceil(max(0.0, -first) / _PRE_ROLL_STEP_SECONDS) * _PRE_ROLL_STEP_SECONDS)


def _clicks(whole: Phrase, tempo: float, options: Options, start: float) -> list[Strike]:
    """Clicks of the count-in and, where asked, of every beat up to the landing's first."""
    meter = whole.meter
    first = -options.count_in_bars
    landed = bool(whole.bars) and whole.bars[-1].part is Part.LANDING
    last = len(whole.bars) - landed if options.click is Click.BEATS else 0
    made = [click for bar in range(first, last) for click in _bar_clicks(meter, tempo, start, bar)]
    if landed and options.click is Click.BEATS:
        made += _bar_clicks(meter, tempo, start, last)[:1]
    return made


def _bar_clicks(meter: Meter, tempo: float, start: float, bar: int) -> list[Strike]:
    """A click on every beat of a bar, the first accented; bars before the phrase have negative numbers."""
    seconds = whole_note_seconds(meter, tempo)
    return [
        Strike(
            name="click" if number else "accented click",
            onset_seconds=max(0.0, start + float(bar * meter.bar + at) * seconds),
            velocity=ACCENT,
        )
        for number, at in enumerate(meter.beat_starts)
    ]


def _ended(samples: Samples, least_seconds: float, most_seconds: float) -> Samples:
    """Samples at least so long and at most so long; where something is cut off, it is faded to zero first."""
    least, most = round(least_seconds * RATE), round(most_seconds * RATE)
    if len(samples) > most:
        samples = samples[:most]
        fade = round(_FADE_SECONDS * RATE)
        samples[-fade:] *= (np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32)) ** 2)[:, None]
        samples[-1] = 0
    if len(samples) < least:
        samples = np.concatenate([samples, np.zeros((least - len(samples), 2), np.float32)])
    return samples
