"""Grooves, from the table `grooves.toml` or written by a teacher in the same form."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import cast

from fillwright.errors import FitError, UnknownNameError
from fillwright.music.counting import format_place, parse_places
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter, find_meter
from fillwright.music.rudiments import normalize_name
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import Surface, find_surface

_HANDS = {"R": Limb.RIGHT, "L": Limb.LEFT}
_LIMBS = {limb: f"{limb.value if limb.is_foot else limb.name.lower() + ' hand'}" for limb in Limb}


@dataclass(frozen=True, slots=True, kw_only=True)
class Groove:
    """One bar of groove.

    Attributes:
        name: its name in files and on pages.
        meter: of the bar.
        hits: from the start of the bar, ascending.
        tempo: slowest and fastest usual tempo, in the meter's beats per minute.
    """

    name: str
    meter: Meter
    hits: tuple[Hit, ...]
    tempo: tuple[int, int]


def read_groove(row: Mapping[str, object]) -> Groove:
    """Read a groove from one row of a table in the form of `grooves.toml`.

    Raises:
        CountError: for a place that can't be read.
        UnknownNameError: for an unknown meter, surface or hand.
        FitError: where a foot's line names a hand, one limb strikes twice at once, one surface is struck twice
            at once, or a count is played in thirds and in halves or quarters.
    """
    meter = find_meter(str(row["meter"]))
    low, high = cast("list[int]", row["tempo"])
    hits: list[Hit] = []
    for line in cast("list[dict[str, str]]", row["lines"]):
        hits += read_line(line, meter)
    _refuse_twice_at_once(hits, meter)
    _refuse_thirds_beside_halves(hits, meter)
    return Groove(name=str(row["name"]), meter=meter, hits=_set_lengths(hits, meter), tempo=(low, high))


def read_line(line: Mapping[str, str], meter: Meter) -> tuple[Hit, ...]:
    """Read one line of a groove, one limb on one surface, as hits of length 0; `read_groove` sets the lengths.

    Raises:
        CountError: for a place that can't be read.
        UnknownNameError: for an unknown surface or hand.
        FitError: for a hand where a foot plays.
    """
    struck = find_surface(line["surface"])
    if struck.foot and "hand" in line:
        raise FitError(f"The foot plays the {struck.name}; leave the hand out.")
    limb = struck.foot or _HANDS.get(line.get("hand", ""))
    if limb is None:
        raise UnknownNameError(
            f'The line for the {struck.name} has "{line.get("hand", "")}" for a hand; write hand = "R" or "L".'
        )
    return tuple(
        Hit(at=at, length=Fraction(0), stroke=Stroke(hand=limb, level=level), surface=struck)
        for at, level in parse_places(line["at"], meter)
    )


def _refuse_twice_at_once(hits: Sequence[Hit], meter: Meter) -> None:
    limbs: dict[tuple[Fraction, Limb], Surface] = {}
    struck: set[tuple[Fraction, str]] = set()
    for hit in hits:
        count = format_place(meter, hit.at)
        before = limbs.setdefault((hit.at, hit.stroke.hand), hit.surface)
        if before is not hit.surface:
            raise FitError(
                f"The {_LIMBS[hit.stroke.hand]} strikes {before.name} and {hit.surface.name} at once on "
                f"{count}; give one of them to another hand, or leave it out."
            )
        if (hit.at, hit.surface.name) in struck:
            raise FitError(f"The {hit.surface.name} is struck twice at once on {count}; write it once.")
        struck.add((hit.at, hit.surface.name))


def _refuse_thirds_beside_halves(hits: Sequence[Hit], meter: Meter) -> None:
    sizes: dict[int, set[int]] = {}
    for hit in hits:
        count, part = divmod(hit.at * meter.denominator, 1)
        sizes.setdefault(int(count), set()).add(part.denominator)
    for count, parts in sorted(sizes.items()):
        if 3 in parts and parts & {2, 4}:
            raise FitError(
                f"Count {count + 1} is played in thirds and in halves or quarters at once; "
                "write either trip and let, or e, & and a."
            )


def _set_lengths(hits: Sequence[Hit], meter: Meter) -> tuple[Hit, ...]:
    """Return the hits in order; each ends at the next stroke of hands or of feet, or with its beat."""
    timed = []
    for hit in sorted(hits, key=Hit.order):
        feet = hit.stroke.hand.is_foot
        later = [h.at for h in hits if h.stroke.hand.is_foot == feet and h.at > hit.at]
        beat_end = next(
            start + length
            for start, length in zip(meter.beat_starts, meter.beats, strict=True)
            if start <= hit.at < start + length
        )
        timed.append(replace(hit, length=min([*later, beat_end]) - hit.at))
    return tuple(timed)


@cache
def load_grooves() -> tuple[Groove, ...]:
    """Return every groove of the table."""
    table = tomllib.loads(files(__package__).joinpath("grooves.toml").read_text("utf-8"))
    return tuple(read_groove(row) for row in table["groove"])


def find_groove(name: str, written: Sequence[Groove] = ()) -> Groove:
    """Return the groove of that name: the teacher's grooves first, then those of the table.

    Args:
        name: of the groove.
        written: grooves that the teacher wrote.

    Raises:
        UnknownNameError: with the nearest known name.

    >>> find_groove("shuffle").meter.name
    '4/4'
    """
    known = (*written, *load_grooves())
    for groove in known:
        if normalize_name(groove.name) == normalize_name(name):
            return groove
    raise UnknownNameError.of("groove", name, [groove.name for groove in known])
