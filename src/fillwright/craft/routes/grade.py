"""Grades: how hard a route is, from 1 to 10, and why in one sentence."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from math import floor, isinf, log2
from typing import Any

from fillwright.craft.player.motion import Demand, peak
from fillwright.craft.player.players import Player, find_player
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.phrase import Span
from fillwright.music.stroke import Kind, Limb

EASIEST, HARDEST = 1, 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """What a route asks, as far as it makes it hard.

    Attributes:
        ceiling_bpm: of the reference player, in quarters a minute; infinite for a single stroke.
        surfaces: how many surfaces the hands play.
        beat_travel_cm: the way of both hands together, for each quarter of the span.
        crossings: how many strokes are struck with crossed hands.
        length: of the span, in whole notes.
        doubled: whether a foot plays together with a hand.
        alone: whether a foot plays a stroke of its own.
    """

    ceiling_bpm: float
    surfaces: int
    beat_travel_cm: float
    crossings: int
    length: Fraction
    doubled: bool = False
    alone: bool = False


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("grade.toml").read_text("utf-8"))


def reference_player() -> Player:
    """The player whose ceiling makes the grade."""
    return find_player(_table()["player"])


def difficulty(load: Load) -> float:
    """How hard, as a number without steps: no part of the load can grow and this become less.

    >>> easy = Load(ceiling_bpm=240, surfaces=1, beat_travel_cm=0, crossings=0, length=Fraction(1, 4))
    >>> difficulty(easy)
    1.0
    """
    table = _table()
    beats = float(load.length * 4)
    parts = (
        _speed(load.ceiling_bpm),
        _surfaces(load.surfaces),
        _part(table["travel"], "a_metre", load.beat_travel_cm / 100),
        _part(table["crossings"], "each", load.crossings),
        _part(table["length"], "a_doubling", max(0.0, log2(beats))),
        table["feet"]["doubling"] * load.doubled,
        table["feet"]["alone"] * load.alone,
    )
    return EASIEST + sum(parts)


def grade(hardness: float) -> int:
    """A difficulty as a grade from 1 to 10.

    >>> grade(3.7)
    3
    """
    return max(EASIEST, min(HARDEST, floor(hardness + 1e-9)))


def _speed(ceiling_bpm: float) -> float:
    table = _table()["ceiling"]
    return 0.0 if isinf(ceiling_bpm) else _part(table, "a_halving", log2(table["easy_bpm"] / ceiling_bpm))


def _surfaces(number: int) -> float:
    table = _table()["surfaces"]
    if number < 2:
        return 0.0
    return float(min(table["most"], table["second"] + table["further"] * (number - 2)))


def _part(table: dict[str, float], rate: str, amount: float) -> float:
    return max(0.0, min(table["most"], table[rate] * amount))


def reason(demands: tuple[Demand, ...], hits: tuple[Hit, ...], span: Span, meter: Meter, whole: float) -> str:
    """The tightest move of a route in one plain sentence.

    Args:
        demands: of the route.
        hits: its hits, in whole notes from the start of the span.
        span: where it lies.
        meter: of the phrase.
        whole: length of a whole note at the tempo asked, in seconds.
    """
    tightest = peak(demands)
    if tightest is None:
        return "no hand or foot strikes twice"
    hit = hits[tightest.stroke]
    milliseconds = round(float(tightest.gap) * whole * 1000)
    return f"{_move(tightest, hit)} in {milliseconds} ms {_where(hit.at + span.start, meter)}"


def _move(move: Demand, hit: Hit) -> str:
    limb = {Limb.RIGHT: "right hand", Limb.LEFT: "left hand"}.get(move.limb, move.limb.value)
    # the other hand's part of a flam or a drag
    ornament = {Kind.FLAM: "for a flam", Kind.DRAG: "for a drag"}.get(hit.stroke.kind, "")
    tail = f" {ornament}" if ornament and move.limb is hit.stroke.hand.other else ""
    return f"{limb} {_verb(move)}{tail}"


def _verb(move: Demand) -> str:
    if move.before != move.surface:
        return f"travels from {move.before} to {move.surface}"
    return f"doubles on {move.surface}" if move.rebound else f"strikes {move.surface} again"


def _where(at: Fraction, meter: Meter) -> str:
    """The beat of a place in the phrase: "on beat 4" or "in beat 4" behind it."""
    place = at % meter.bar
    number, start = [(n, s) for n, s in enumerate(meter.beat_starts, start=1) if s <= place][-1]
    return f"{'on' if place == start else 'in'} beat {number}"
