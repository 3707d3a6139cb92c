"""Rudiment sheet: a figure by itself on the snare, without groove, from both leads."""

from __future__ import annotations

from fractions import Fraction

from fillwright.craft.chains.chain import Chain, repeat_figure
from fillwright.craft.chains.readings import require_rhythms
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter, find_meter
from fillwright.music.phrase import Bar, Part, Phrase
from fillwright.music.stroke import Limb

_MOST_REPETITIONS = 12  # tried until they end on a beat; ours, not measured


def build_sheet_phrase(figure: Figure, rhythm: Rhythm | None = None, *, meter: Meter | None = None) -> Phrase:
    """Build a phrase of a figure on the snare, from the right and from the left, until it ends on a beat.

    Args:
        figure: the figure.
        rhythm: one of its rhythms; by default the first that fits the meter.
        meter: the meter, 4/4 by default.

    Raises:
        FitError: for a figure without a rhythm that fits the meter.

    >>> from fillwright.music.rudiments import find_figure
    >>> len(list(build_sheet_phrase(find_figure("single paradiddle")).hits()))
    8
    """
    meter = meter or find_meter("4/4")
    chain = _repeat_both_leads(figure, rhythm or require_rhythms(figure, meter)[0], meter)
    hits = chain.hits()
    count = -(-chain.length // meter.bar)
    bars = []
    for number in range(int(count)):
        start = number * meter.bar
        inside = tuple(hit.shift(-start) for hit in hits if start <= hit.at < start + meter.bar)
        bars.append(Bar(part=Part.FILL, hits=inside))
    return Phrase(meter=meter, bars=tuple(bars))


def _repeat_both_leads(figure: Figure, rhythm: Rhythm, meter: Meter) -> Chain:
    beat = meter.beats[0]
    if figure.alternates:
        repetitions = _count_repetitions(2 * rhythm.length, beat)
        return repeat_figure(figure, rhythm, 2 * repetitions, Limb.RIGHT)
    repetitions = _count_repetitions(rhythm.length, beat)
    return repeat_figure(figure, rhythm, repetitions, Limb.RIGHT).then(
        repeat_figure(figure, rhythm, repetitions, Limb.LEFT)
    )


def _count_repetitions(length: Fraction, beat: Fraction) -> int:
    """Return the fewest repetitions that end on a beat, or 1."""
    return next((n for n in range(1, _MOST_REPETITIONS + 1) if (n * length) % beat == 0), 1)
