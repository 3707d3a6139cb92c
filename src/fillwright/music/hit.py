"""Hits: a stroke on a surface at a place in time."""

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
        at: where it falls, in whole notes from the start of what holds it (bar, span or phrase).
        length: the time up to the next stroke of its line, in whole notes.
        stroke: limb, kind and level.
        surface: what is struck.
        graces_on: where its grace notes are struck; None for the same surface.
    """

    at: Fraction
    length: Fraction
    stroke: Stroke
    surface: Surface
    graces_on: Surface | None = None

    @property
    def grace_surface(self) -> Surface:
        """Where its grace notes are struck."""
        return self.graces_on or self.surface

    def moved(self, by: Fraction) -> Hit:
        """The same hit later by some whole notes."""
        return replace(self, at=self.at + by)

    def order(self) -> tuple[Fraction, int]:
        """Sort key: time, then from the highest note head to the lowest."""
        return self.at, -self.surface.loc


def mirror_hits(hits: Iterable[Hit]) -> tuple[Hit, ...]:
    """The same hits with hands and feet exchanged; the surfaces stay."""
    return tuple(replace(hit, stroke=hit.stroke.mirror()) for hit in hits)
