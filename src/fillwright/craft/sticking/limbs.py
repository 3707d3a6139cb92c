"""Strokes to be shared by two limbs, what each limb needs for them, and how each is played in the end."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Way(Enum):
    """How a stroke comes about."""

    FRESH = "fresh"
    REBOUND = "rebound"
    BOUNCE = "bounce"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What is the same for both limbs.

    Attributes:
        rebounds: how many strokes in a row may be rebounds.
        crossing_seconds: one stick passing the other.
        clear_seconds: a limb that struck longer ago than this has made way.
        grace_seconds: what a grace note or a soft stroke saves, since it starts low.
        soft_velocity: the loudest stroke that is soft.
        bounce_gap_seconds: a pressed stick bounces within this.
        bounce_share: a rebound or bounce is at most this much of the stroke before,
        bounce_steps: and so many steps of velocity.
        jitter_seconds: each gap counts this much longer.
    """

    rebounds: int
    crossing_seconds: float = 0.0
    clear_seconds: float = 0.0
    grace_seconds: float = 0.0
    soft_velocity: int = 0
    bounce_gap_seconds: float = 0.0
    bounce_share: float = 1.0
    bounce_steps: int = 0
    jitter_seconds: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One stroke to be given to a limb.

    Attributes:
        at_seconds: where it belongs.
        ahead_seconds: how far before that it falls, for grace notes.
        surface: number of its surface in the tables.
        velocity: 1 to 127, 0 where it isn't known.
        limbs: the limbs, 0 or 1, that may play it.
    """

    at_seconds: float
    ahead_seconds: float
    surface: int
    velocity: int
    limbs: tuple[int, ...] = (0, 1)

    def is_low(self, soft_velocity: int) -> bool:
        """Whether the stick starts low: for a grace note, or one as soft."""
        return self.ahead_seconds > 0 or 0 < self.velocity <= soft_velocity

    @property
    def onset_seconds(self) -> float:
        """When it sounds."""
        return self.at_seconds - self.ahead_seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Tables:
    """Seconds that each limb needs, by limb and surface.

    Attributes:
        fresh: from one surface to another, `fresh[limb][before][after]`.
        rebound: on one surface, `rebound[limb][surface]`.
        bounce: the same for a pressed stick.
        crossed: whether the limbs cross, `crossed[limb][own surface][other limb's surface]`.
    """

    fresh: tuple[tuple[tuple[float, ...], ...], ...]
    rebound: tuple[tuple[float, ...], ...]
    bounce: tuple[tuple[float, ...], ...]
    crossed: tuple[tuple[tuple[bool, ...], ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One stroke as a limb plays it.

    Attributes:
        limb: 0 or 1.
        before: number of the limb's stroke before, -1 for none.
        way: how the stroke comes about.
        crossed: whether the limbs cross.
        needed_seconds: what the player needs.
        gap_seconds: what there is.
        demand: needed over available; a rebound never counts as less than the least it is given.
    """

    limb: int
    before: int
    way: Way
    crossed: bool
    needed_seconds: float
    gap_seconds: float
    demand: float
