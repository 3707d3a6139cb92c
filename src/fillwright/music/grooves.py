"""Grooves, from the table `grooves.toml`."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import cast

from fillwright.errors import UnknownNameError
from fillwright.music.counting import parse_places
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter, meter
from fillwright.music.rudiments import plain
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import surface

_HANDS = {"R": Limb.RIGHT, "L": Limb.LEFT}


@dataclass(frozen=True, slots=True, kw_only=True)
class Groove:
    """One bar of time.

    Attributes:
        name: as we say it.
        meter: of the bar.
        hits: from the start of the bar, ascending.
        tempo: slowest and fastest tempo it feels right at, in the meter's beats a minute.
    """

    name: str
    meter: Meter
    hits: tuple[Hit, ...]
    tempo: tuple[int, int]

    @property
    def in_triplets(self) -> bool:
        """Whether any stroke falls on a third of a beat."""
        return any(hit.at.denominator % 3 == 0 for hit in self.hits)


def read_groove(row: Mapping[str, object]) -> Groove:
    """A groove from one row of a table shaped like `grooves.toml`.

    Raises:
        CountError: for a place that can't be read.
        UnknownNameError: for a meter, surface or hand that stands in no table.
    """
    where = meter(str(row["meter"]))
    low, high = cast("list[int]", row["tempo"])
    hits: list[Hit] = []
    for line in cast("list[dict[str, str]]", row["lines"]):
        hits += _line_hits(line, where)
    return Groove(name=str(row["name"]), meter=where, hits=_with_lengths(hits, where), tempo=(low, high))


def _line_hits(line: Mapping[str, str], where: Meter) -> list[Hit]:
    struck = surface(line["surface"])
    limb = struck.foot or _HANDS.get(line.get("hand", ""))
    if limb is None:
        raise UnknownNameError(
            f'The line for the {struck.name} has "{line.get("hand", "")}" for a hand; write hand = "R" or "L".'
        )
    return [
        Hit(at=at, length=Fraction(0), stroke=Stroke(hand=limb, level=level), surface=struck)
        for at, level in parse_places(line["at"], where)
    ]


def _with_lengths(hits: Sequence[Hit], where: Meter) -> tuple[Hit, ...]:
    """Each hit's length runs to the next stroke of hands or of feet, at most to the end of its beat."""
    made = []
    for hit in sorted(hits, key=Hit.order):
        feet = hit.stroke.hand.is_foot
        later = [h.at for h in hits if h.stroke.hand.is_foot == feet and h.at > hit.at]
        beat_end = next(
            start + length
            for start, length in zip(where.beat_starts, where.beats, strict=True)
            if start <= hit.at < start + length
        )
        made.append(replace(hit, length=min([*later, beat_end]) - hit.at))
    return tuple(made)


@cache
def grooves() -> tuple[Groove, ...]:
    """Every groove of the table."""
    table = tomllib.loads(files(__package__).joinpath("grooves.toml").read_text("utf-8"))
    return tuple(read_groove(row) for row in table["groove"])


def find_groove(name: str) -> Groove:
    """The groove of that name.

    Raises:
        UnknownNameError: offering the nearest name.

    >>> find_groove("shuffle").in_triplets
    True
    """
    for groove in grooves():
        if plain(groove.name) == plain(name):
            return groove
    raise UnknownNameError.of("groove", name, [groove.name for groove in grooves()])
