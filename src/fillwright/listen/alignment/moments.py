"""What is written, gathered into moments: strokes that fall together, with their grace notes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from fillwright.listen.written import WrittenPhrase

Floats = npt.NDArray[np.float64]

_TOGETHER_SECONDS = 0.003
_CLEAR_SECONDS, _LAST_BOUNCES_SECONDS = 0.02, 1.0


@dataclass(frozen=True, kw_only=True)
class Moment:
    """Main notes that fall together, and the grace notes before them.

    Attributes:
        seconds: at the intended tempo.
        bar: number of its bar.
        mains: indices of its main notes among the written strokes.
        graces: indices of their grace notes, ascending in time.
        surfaces: what is struck by the main notes.
        in_fill: whether it belongs to the fill.
        landing: whether it belongs to the landing.
        buzz: whether one of the strokes is pressed.
        velocity: of the loudest.
    """

    seconds: float
    bar: int
    mains: tuple[int, ...]
    graces: tuple[int, ...]
    surfaces: frozenset[str]
    in_fill: bool
    landing: bool
    buzz: bool
    velocity: int


@dataclass(frozen=True, kw_only=True)
class Moments:
    """All moments of a phrase, ascending, and how the phrase is laid out."""

    all: tuple[Moment, ...]
    expected: WrittenPhrase

    @cached_property
    def at(self) -> Floats:
        """Their seconds at the intended tempo."""
        return np.array([one.seconds for one in self.all])

    @cached_property
    def ahead(self) -> tuple[Floats, ...]:
        """Of each, how many seconds its grace notes lie ahead, the farthest first."""
        strokes = self.expected.strokes
        return tuple(
            np.array([one.seconds - strokes[grace].seconds for grace in one.graces]) for one in self.all
        )

    @cached_property
    def fills(self) -> tuple[tuple[float, float], ...]:
        """Where fills lie, from their first moment to the next one or the end of their bar."""
        spans: list[tuple[float, float]] = []
        for place, one in enumerate(self.all):
            if not one.in_fill:
                continue
            later = self.all[place + 1].seconds if place + 1 < len(self.all) else np.inf
            end = min(later, self.expected.bar_starts[one.bar + 1])
            if spans and spans[-1][1] >= one.seconds - 1e-6:
                spans[-1] = (spans[-1][0], end)
            else:
                spans.append((one.seconds, end))
        return tuple(spans)

    @cached_property
    def gaps(self) -> Floats:
        """Seconds from each to its nearest neighbour."""
        steps = np.array([after - before for before, after in pairwise(self.at)])
        return np.asarray(np.minimum(np.append(steps, np.inf), np.insert(steps, 0, np.inf)))

    def bouncing(self, places: Floats) -> list[tuple[float, float]]:
        """Where a buzz bounces on: from its stroke to just before the next moment.

        Args:
            places: where in the take each moment lies.
        """
        ends = np.append(places[1:] - _CLEAR_SECONDS, places[-1:] + _LAST_BOUNCES_SECONDS)
        return [
            (float(start), float(end))
            for one, start, end in zip(self.all, places, ends, strict=True)
            if one.buzz
        ]

    @property
    def landing_open(self) -> bool:
        """Whether the last bar is a landing, so that the next time through may start there."""
        return bool(self.all) and self.all[-1].landing

    @property
    def last_start(self) -> float:
        """Where the next time through may start at the earliest: the landing, else the end."""
        starts = self.expected.bar_starts
        return starts[self.all[-1].bar] if self.landing_open else starts[-1]


def moments(expected: WrittenPhrase) -> Moments:
    """The moments of a phrase."""
    strokes = expected.strokes
    graces: dict[int, list[int]] = {}
    groups: list[list[int]] = []
    for index, one in enumerate(strokes):
        if one.grace_of is not None:
            graces.setdefault(one.grace_of, []).append(index)
        elif groups and one.seconds - strokes[groups[-1][0]].seconds <= _TOGETHER_SECONDS:
            groups[-1].append(index)
        else:
            groups.append([index])
    return Moments(all=tuple(_moment(expected, group, graces) for group in groups), expected=expected)


def _moment(expected: WrittenPhrase, group: list[int], graces: dict[int, list[int]]) -> Moment:
    own = [expected.strokes[index] for index in group]
    before = sorted(
        (grace for index in group for grace in graces.get(index, ())),
        key=lambda grace: expected.strokes[grace].seconds,
    )
    return Moment(
        seconds=own[0].seconds,
        bar=own[0].bar,
        mains=tuple(group),
        graces=tuple(before),
        surfaces=frozenset(one.surface for one in own),
        in_fill=any(one.in_fill for one in own),
        landing=all(one.landing for one in own),
        buzz=any(one.buzz for one in own),
        velocity=max(one.velocity for one in own),
    )
