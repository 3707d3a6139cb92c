"""A figure by itself: on the snare, no groove, from both leads, as a rudiment sheet shows it."""

from __future__ import annotations

from fractions import Fraction

from fillwright.craft.chains.chain import Chain, repeat, turn_length
from fillwright.craft.chains.readings import rhythms_held
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter, meter
from fillwright.music.phrase import Bar, Part, Phrase
from fillwright.music.stroke import Limb

_MOST_TURNS = 12


def figure_phrase(figure: Figure, rhythm: Rhythm | None = None, *, where: Meter | None = None) -> Phrase:
    """A figure on the snare from the right and from the left, as many turns as come out on a beat.

    Args:
        figure: what is played.
        rhythm: one of its rhythms; the first that the meter can hold by default.
        where: the meter, 4/4 by default.

    Raises:
        FitError: where the meter holds none of its rhythms.

    >>> from fillwright.music.rudiments import find_figure
    >>> len(list(figure_phrase(find_figure("single paradiddle")).hits()))
    8
    """
    where = where or meter("4/4")
    chain = _both_leads(figure, rhythm or rhythms_held(figure, where)[0], where)
    hits = chain.hits()
    count = -(-chain.length // where.bar)
    bars = []
    for number in range(int(count)):
        start = number * where.bar
        inside = tuple(hit.moved(-start) for hit in hits if start <= hit.at < start + where.bar)
        bars.append(Bar(part=Part.FILL, hits=inside))
    return Phrase(meter=where, bars=tuple(bars))


def _both_leads(figure: Figure, rhythm: Rhythm, where: Meter) -> Chain:
    beat = where.beats[0]
    if figure.alternates:
        turns = _turns(2 * turn_length(rhythm), beat)
        return repeat(figure, rhythm, 2 * turns, Limb.RIGHT)
    turns = _turns(turn_length(rhythm), beat)
    return repeat(figure, rhythm, turns, Limb.RIGHT).then(repeat(figure, rhythm, turns, Limb.LEFT))


def _turns(length: Fraction, beat: Fraction) -> int:
    """The fewest turns that end on a beat."""
    return next((n for n in range(1, _MOST_TURNS + 1) if (n * length) % beat == 0), 1)
