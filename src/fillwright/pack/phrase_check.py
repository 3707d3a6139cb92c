"""A phrase that was read from a file, checked before anything is made of it."""

from __future__ import annotations

from math import lcm

from fillwright import budget
from fillwright.errors import FillwrightError
from fillwright.music.hit import Hit
from fillwright.music.phrase import Part, Phrase
from fillwright.music.stroke import Kind


def check_phrase(phrase: Phrase) -> None:
    """Check that a phrase can be played: every stroke in its bar, one for a limb at a time, the fill in it.

    Raises:
        FillwrightError: with what is wrong.
    """
    for number, bar in enumerate(phrase.bars, 1):
        if bar.part is Part.LANDING and number < len(phrase.bars):
            raise FillwrightError(f"bar {number} is a landing, and only the last bar can be one")
        for hit in bar.hits:
            _check_hit(hit, phrase, number)
        if len({(hit.at, hit.stroke.hand) for hit in bar.hits}) < len(bar.hits):
            raise FillwrightError(f"in bar {number} a hand or foot has two strokes at once")
        if lcm(*(time.denominator for hit in bar.hits for time in (hit.at, hit.length))) > budget.BAR_PARTS:
            raise FillwrightError(f"the strokes of bar {number} are on no grid of note values")
    span = phrase.span
    end = sum(bar.part is not Part.LANDING for bar in phrase.bars) * phrase.meter.bar
    if span is not None and not 0 <= span.start < span.end <= end:
        raise FillwrightError(
            f"the fill goes from {span.start} to {span.end} whole notes, and must be between 0 and {end}"
        )


def _check_hit(hit: Hit, phrase: Phrase, number: int) -> None:
    bar = phrase.meter.bar
    if not (0 <= hit.at < bar and 0 < hit.length <= bar):
        raise FillwrightError(
            f"bar {number} has a stroke at {hit.at} that is {hit.length} long; "
            f"it must be between 0 and {bar} whole notes"
        )
    by_foot = hit.surface.foot is not None
    if hit.stroke.hand.is_foot is not by_foot or (by_foot and hit.stroke.kind is not Kind.SINGLE):
        raise FillwrightError(
            f"bar {number} has a stroke on the {hit.surface.name} that its hand or foot can't play"
        )
    if hit.graces_on is not None and hit.graces_on.foot is not None:
        raise FillwrightError(f"bar {number} has a grace note on the {hit.graces_on.name}")
