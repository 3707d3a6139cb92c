"""The written phrase as moments: main notes that fall together, with their grace notes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from fillwright.listen.written import WrittenPhrase

Floats = npt.NDArray[np.float64]

_TOGETHER_SECONDS = 0.003  # main notes nearer than this are one moment; ours, not measured
_CLEAR_SECONDS = 0.02  # a buzz's bounces end this long before the next moment; ours, not measured
_LAST_BOUNCES_SECONDS = 1.0  # and this long after the last moment; ours, not measured


@dataclass(frozen=True, kw_only=True)
class Moment:
    """Main notes that fall together, and the grace notes before them.

    Attributes:
        seconds: at the intended tempo.
        bar: number of its bar.
        mains: indices of its main notes among the written strokes.
        graces: indices of their grace notes, ascending in time.
        surfaces: drums and cymbals of the main notes.
        in_fill: True if it belongs to the fill.
        landing: True if it belongs to the landing.
        buzz: True if one of the strokes is a buzz.
        velocity: of the loudest stroke, 1 to 127.
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
    """All moments of a phrase, ascending.

    Attributes:
        all: the moments.
        written: the phrase.
    """

    all: tuple[Moment, ...]
    written: WrittenPhrase

    @cached_property
    def seconds(self) -> Floats:
        """Times of the moments at the intended tempo, shape (moments,)."""
        return np.array([moment.seconds for moment in self.all])

    @cached_property
    def grace_leads(self) -> tuple[Floats, ...]:
        """For each moment, seconds from its grace notes to the main note, the longest first."""
        strokes = self.written.strokes
        return tuple(
            np.array([moment.seconds - strokes[grace].seconds for grace in moment.graces])
            for moment in self.all
        )

    @cached_property
    def fills(self) -> tuple[tuple[float, float], ...]:
        """Start and end of each fill; the end is the next moment or the end of its bar."""
        spans: list[tuple[float, float]] = []
        for number, moment in enumerate(self.all):
            if not moment.in_fill:
                continue
            later = self.all[number + 1].seconds if number + 1 < len(self.all) else np.inf
            end = min(later, self.written.bar_starts[moment.bar + 1])
            if spans and spans[-1][1] >= moment.seconds - 1e-6:
                spans[-1] = (spans[-1][0], end)
            else:
                spans.append((moment.seconds, end))
        return tuple(spans)

    def find_bounce_spans(self, take_seconds: Floats) -> list[tuple[float, float]]:
        """Return the spans in which buzzes bounce: from each to just before the next moment.

        Args:
            take_seconds: time in the take of each moment.
        """
        ends = np.append(take_seconds[1:] - _CLEAR_SECONDS, take_seconds[-1:] + _LAST_BOUNCES_SECONDS)
        return [
            (float(start), float(end))
            for moment, start, end in zip(self.all, take_seconds, ends, strict=True)
            if moment.buzz
        ]

    @property
    def ends_with_landing(self) -> bool:
        """True if the last bar is a landing, so that the next repetition may start there."""
        return bool(self.all) and self.all[-1].landing

    @property
    def next_start(self) -> float:
        """Earliest start of the next repetition, in written seconds: the landing, else the end."""
        starts = self.written.bar_starts
        return starts[self.all[-1].bar] if self.ends_with_landing else starts[-1]


def group_moments(written: WrittenPhrase) -> Moments:
    """Group the strokes of a phrase into moments."""
    strokes = written.strokes
    graces: dict[int, list[int]] = {}
    groups: list[list[int]] = []
    for index, stroke in enumerate(strokes):
        if stroke.grace_of is not None:
            graces.setdefault(stroke.grace_of, []).append(index)
        elif groups and stroke.seconds - strokes[groups[-1][0]].seconds <= _TOGETHER_SECONDS:
            groups[-1].append(index)
        else:
            groups.append([index])
    return Moments(all=tuple(_build_moment(written, group, graces) for group in groups), written=written)


def _build_moment(written: WrittenPhrase, group: list[int], graces: dict[int, list[int]]) -> Moment:
    mains = [written.strokes[index] for index in group]
    before = sorted(
        (grace for index in group for grace in graces.get(index, ())),
        key=lambda grace: written.strokes[grace].seconds,
    )
    return Moment(
        seconds=mains[0].seconds,
        bar=mains[0].bar,
        mains=tuple(group),
        graces=tuple(before),
        surfaces=frozenset(stroke.surface for stroke in mains),
        in_fill=any(stroke.in_fill for stroke in mains),
        landing=all(stroke.landing for stroke in mains),
        buzz=any(stroke.buzz for stroke in mains),
        velocity=max(stroke.velocity for stroke in mains),
    )
