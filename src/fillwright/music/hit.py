"""Hits: strokes on surfaces, each with its time in whole notes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from fillwright.music.stroke import Stroke
from fillwright.music.surfaces import Surface


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """One stroke on one surface.

    Attributes:
        at: its time, in whole notes from the start of the bar, span or phrase that contains it.
        length: the time up to the next stroke of its line, in whole notes.
        stroke: limb, kind and level.
        surface: the drum or cymbal.
        graces_on: the surface of its grace notes; None for the same surface.
    """

    at: Fraction
    length: Fraction
    stroke: Stroke
    surface: Surface
    graces_on: Surface | None = None

    @property
    def grace_surface(self) -> Surface:
        """Surface of its grace notes."""
        return self.graces_on or self.surface

    def shift(self, by: Fraction) -> Hit:
        """Return the same hit, later by some whole notes."""
        return replace(self, at=self.at + by)

    def order(self) -> tuple[Fraction, int]:
        """Return the sort key: time, then from the highest note head to the lowest."""
        return self.at, -self.surface.loc


def mirror_hits(hits: Iterable[Hit]) -> tuple[Hit, ...]:
    """Return the hits with left and right limbs exchanged; the surfaces stay."""
    return tuple(replace(hit, stroke=hit.stroke.mirror()) for hit in hits)
