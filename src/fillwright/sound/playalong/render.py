"""Play-alongs: count-in, click, the phrase as often as asked, the landing, the tail."""

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
"""The longest that anything rings on after the landing."""

_FADE_SECONDS = 0.8


def render(
    phrase: Phrase, tempo: float, options: Options = DEFAULT_OPTIONS, *, bank: SoundBank | None = None
) -> Audio:
    """A phrase as audio.

    Each attack lies at round((start_seconds + onset) * 44100), the onsets being those that
    `music.timing.timeline` gives for the phrase as `sections.unrolled`, unless a loose player is asked for.

    Args:
        phrase: what is played.
        tempo: in the meter's beats a minute.
        options: what is asked for.
        bank: where the sounds come from; the modelled kit by default.

    Returns:
        Audio at the fixed level, quieter only where its true peak would pass `peak.CEILING_DB`.

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
    """One phrase at several tempos, as `render` makes it, each a piece of its own."""
    return tuple(render(phrase, tempo, options, bank=bank) for tempo in tempos)


def render_sections(sections: Sequence[Section], *, bank: SoundBank | None = None) -> Audio:
    """Sections as one piece of audio, each attack at its exact sample.

    Args:
        sections: from `sections.planned`, at least one.
        bank: where the sounds come from; the modelled kit by default.
    """
    played = sorted(
        (strike for section in sections for strike in section.list_strikes()),
        key=lambda strike: strike.onset_seconds,
    )
    end = sections[-1].end_seconds
    latest = max([end, *(strike.onset_seconds for strike in played[-1:])])
    samples = limit_peak(_ended(mix(played, bank=bank), end, latest + TAIL_SECONDS))
    return Audio(samples=samples, start_seconds=sections[0].start_seconds)


def render_loop(section: Section, *, bank: SoundBank | None = None) -> Audio:
    """A section as a loop that closes to the sample: what rings on at its end sounds at its start.

    Args:
        section: from `sections.planned` with `Shape.LOOP`.
        bank: where the sounds come from; the modelled kit by default.
    """
    length = round((section.end_seconds - section.start_seconds) * SAMPLE_RATE)
    samples = mix_loop(section.list_strikes(), length, bank=bank)
    edge = min(len(samples), SAMPLE_RATE)
    # the curve between the last sample and the first is part of it too
    closed = limit_peak(np.concatenate([samples[-edge:], samples, samples[:edge]]))
    return Audio(samples=closed[edge : edge + length], loops=True)


def _ended(samples: Samples, least_seconds: float, most_seconds: float) -> Samples:
    """Samples at least so long and at most so long; where something is cut off, it is faded to zero first."""
    least, most = round(least_seconds * SAMPLE_RATE), round(most_seconds * SAMPLE_RATE)
    if len(samples) > most:
        samples = samples[:most]
        fade = round(_FADE_SECONDS * SAMPLE_RATE)
        samples[-fade:] *= (np.cos(np.linspace(0, np.pi / 2, fade, dtype=np.float32)) ** 2)[:, None]
        samples[-1] = 0
    if len(samples) < least:
        samples = np.concatenate([samples, np.zeros((least - len(samples), 2), np.float32)])
    return samples
