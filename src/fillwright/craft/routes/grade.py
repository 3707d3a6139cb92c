"""Grades: the difficulty of a route, from 1 to 10, and its tightest move in words."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from math import floor, isinf, log2
from typing import Any

from fillwright.craft.player.motion import Demand, find_peak
from fillwright.craft.player.players import Player, find_player
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.phrase import Span
from fillwright.music.stroke import Kind, Limb

EASIEST, HARDEST = 1, 10  # grades; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """The properties of a route that decide its difficulty.

    Attributes:
        ceiling_bpm: ceiling of the reference player, in quarters per minute; infinite for a single stroke.
        surfaces: number of surfaces that the hands play.
        beat_travel_cm: way of both hands together for each quarter of the span.
        crossings: number of strokes with crossed hands.
        length: of the span, in whole notes.
        doubled: True where a foot plays together with a hand.
        alone: True where a foot plays a stroke of its own.
    """

    ceiling_bpm: float
    surfaces: int
    beat_travel_cm: float
    crossings: int
    length: Fraction
    doubled: bool = False
    alone: bool = False


@cache
def _load_table() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("grade.toml").read_text("utf-8"))


def find_reference_player() -> Player:
    """Return the player whose ceiling decides the grade."""
    return find_player(_load_table()["player"])


def rate_difficulty(load: Load) -> float:
    """Rate the difficulty as a number, 1 or more; it never falls when a part of the load grows.

    >>> easy = Load(ceiling_bpm=240, surfaces=1, beat_travel_cm=0, crossings=0, length=Fraction(1, 4))
    >>> rate_difficulty(easy)
    1.0
    """
    table = _load_table()
    beats = float(load.length * 4)
    parts = (
        _rate_speed(load.ceiling_bpm),
        _rate_surfaces(load.surfaces),
        _rate_part(table["travel"], "a_metre", load.beat_travel_cm / 100),
        _rate_part(table["crossings"], "each", load.crossings),
        _rate_part(table["length"], "a_doubling", max(0.0, log2(beats))),
        table["feet"]["doubling"] * load.doubled,
        table["feet"]["alone"] * load.alone,
    )
    return EASIEST + sum(parts)


def grade_difficulty(difficulty: float) -> int:
    """Return a difficulty as a grade from 1 to 10.

    >>> grade_difficulty(3.7)
    3
    """
    return max(EASIEST, min(HARDEST, floor(difficulty + 1e-9)))


def _rate_speed(ceiling_bpm: float) -> float:
    table = _load_table()["ceiling"]
    return 0.0 if isinf(ceiling_bpm) else _rate_part(table, "a_halving", log2(table["easy_bpm"] / ceiling_bpm))


def _rate_surfaces(number: int) -> float:
    table = _load_table()["surfaces"]
    if number < 2:
        return 0.0
    return float(min(table["most"], table["second"] + table["further"] * (number - 2)))


def _rate_part(table: dict[str, float], rate: str, amount: float) -> float:
    return max(0.0, min(table["most"], table[rate] * amount))


def describe_tightest_move(
    demands: tuple[Demand, ...], hits: tuple[Hit, ...], span: Span, meter: Meter, whole_seconds: float
) -> str:
    """Describe the tightest move of a route in one sentence.

    Args:
        demands: of the route.
        hits: its hits, in whole notes from the start of the span.
        span: where it lies.
        meter: of the phrase.
        whole_seconds: length of a whole note at the tempo, in seconds.
    """
    tightest = find_peak(demands)
    if tightest is None:
        return "no hand or foot strikes twice"
    hit = hits[tightest.stroke]
    milliseconds = round(float(tightest.gap) * whole_seconds * 1000)
    return f"{_describe_move(tightest, hit)} in {milliseconds} ms {_format_place(hit.at + span.start, meter)}"


def _describe_move(move: Demand, hit: Hit) -> str:
    limb = {Limb.RIGHT: "right hand", Limb.LEFT: "left hand"}.get(move.limb, move.limb.value)
    # the other hand's part of a flam or a drag
    ornament = {Kind.FLAM: "for a flam", Kind.DRAG: "for a drag"}.get(hit.stroke.kind, "")
    tail = f" {ornament}" if ornament and move.limb is hit.stroke.hand.other else ""
    return f"{limb} {_choose_verb(move)}{tail}"


def _choose_verb(move: Demand) -> str:
    if move.before != move.surface:
        return f"travels from {move.before} to {move.surface}"
    return f"doubles on {move.surface}" if move.rebound else f"strikes {move.surface} again"


def _format_place(at: Fraction, meter: Meter) -> str:
    """Write a place in the phrase as its beat: "on beat 4", or "in beat 4" after it."""
    in_bar = at % meter.bar
    number, start = [(n, s) for n, s in enumerate(meter.beat_starts, start=1) if s <= in_bar][-1]
    return f"{'on' if in_bar == start else 'in'} beat {number}"
