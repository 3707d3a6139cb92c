"""Play-alongs as audio: count-in, clicks, the repetitions of the phrase, the landing, the tail."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from fillwright.music.phrase import Phrase
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.peak import limit_peak
from fillwright.sound.model.bank import SoundBank
from fillwright.sound.playalong.mix import mix, mix_loop
from fillwright.sound.playalong.options import DEFAULT_OPTIONS, Options
from fillwright.sound.playalong.sections import Section, plan_sections
from fillwright.sound.signal import SAMPLE_RATE, Samples

TAIL_SECONDS = 2.5
"""Longest tail after the landing, in seconds; ours, not measured."""

_FADE_SECONDS = 0.8  # fade of a tail that is cut off; ours, not measured


def render(
    phrase: Phrase, tempo: float, options: Options = DEFAULT_OPTIONS, *, bank: SoundBank | None = None
) -> Audio:
    """Render a phrase as audio.

    Each attack is at round((start_seconds + onset) * 44100). Without looseness, the onsets are those of the
    phrase from `sections.unroll_repeats`, timed by `music.timing`.

    Args:
        phrase: the phrase.
        tempo: tempo, in the meter's beats a minute.
        options: options of the play-along.
        bank: source of the sounds; the modelled kit by default.

    Returns:
        Audio at the fixed level, turned down only if its true peak would be above `peak.CEILING_DB`.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    return render_sections(plan_sections(phrase, (tempo,), options), bank=bank)


def render_ladder(
    phrase: Phrase,
    tempos: Iterable[float],
    options: Options = DEFAULT_OPTIONS,
    *,
    bank: SoundBank | None = None,
) -> tuple[Audio, ...]:
    """Render a phrase at several tempos, each a piece of its own."""
    return tuple(render(phrase, tempo, options, bank=bank) for tempo in tempos)


def render_sections(sections: Sequence[Section], *, bank: SoundBank | None = None) -> Audio:
    """Render sections as one piece of audio, each attack at its exact sample.

    Args:
        sections: at least one section from `sections.plan_sections`.
        bank: source of the sounds; the modelled kit by default.
    """
    strikes = sorted(
        (strike for section in sections for strike in section.list_strikes()),
        key=lambda strike: strike.onset_seconds,
    )
    end = sections[-1].end_seconds
    latest = max([end, *(strike.onset_seconds for strike in strikes[-1:])])
    samples = limit_peak(_fit_length(mix(strikes, bank=bank), end, latest + TAIL_SECONDS))
    return Audio(samples=samples, start_seconds=sections[0].start_seconds)


def render_loop(section: Section, *, bank: SoundBank | None = None) -> Audio:
    """Render a section as a seamless loop: sounds that last beyond its end go on at its start.

    Args:
        section: a section from `sections.plan_sections` with `Shape.LOOP`.
        bank: source of the sounds; the modelled kit by default.
    """
    length = round((section.end_seconds - section.start_seconds) * SAMPLE_RATE)
    samples = mix_loop(section.list_strikes(), length, bank=bank)
    edge = min(len(samples), SAMPLE_RATE)
    # the peak may be between the last sample and the first
    limited = limit_peak(np.concatenate([samples[-edge:], samples, samples[:edge]]))
    return Audio(samples=limited[edge : edge + length], loops=True)


def _fit_length(samples: Samples, least_seconds: float, most_seconds: float) -> Samples:
    """Return samples of a length in that range: short ones with silence added, long ones faded and cut off."""
    least, most = round(least_seconds * SAMPLE_RATE), round(most_seconds * SAMPLE_RATE)
    if len(samples) > most:
        samples = samples[:most]
        fade = round(_FADE_SECONDS * SAMPLE_RATE)
        samples[-fade:] *= (np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32)) ** 2)[:, None]
        samples[-1] = 0
    if len(samples) < least:
        samples = np.concatenate([samples, np.zeros((least - len(samples), 2), np.float32)])
    return samples
