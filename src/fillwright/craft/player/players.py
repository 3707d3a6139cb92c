"""Players: how fast and how far hands and feet move, from the table `motion.toml`."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from fillwright.errors import UnknownNameError


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """A player's times, in seconds, lengths in centimetres; `motion.toml` says where they come from.

    Attributes:
        name: as an option names it.
        title: in words.
        stroke_seconds: a fresh stroke of a hand.
        rebound_seconds: the second stroke of a double.
        rebounds: how many strokes may follow a fresh one by rebound.
        rebound_least: the least demand that a rebound counts as.
        bounce_seconds: a bounce of a pressed stick.
        bit_seconds: carrying the stick, for each bit of Fitts's index.
        grace: share of a fresh stroke that a grace note takes.
        soft_velocity: the loudest stroke that starts as low as a grace note.
        crossing_seconds: one stick passing the other.
        clear_seconds: a hand that struck longer ago has made way.
        reach_seconds: a stroke beyond the reach of arm and stick.
        reach_cm: that reach, from the shoulder.
        shoulder_cm: from the middle of the body to a shoulder.
        kick_seconds: a fresh stroke of a foot.
        kick_rebound_seconds: the second of a quick pair of one foot.
    """

    name: str
    title: str
    stroke_seconds: float
    rebound_seconds: float
    rebounds: int
    rebound_least: float
    bounce_seconds: float
    bit_seconds: float
    grace: float
    soft_velocity: int
    crossing_seconds: float
    clear_seconds: float
    reach_seconds: float
    reach_cm: float
    shoulder_cm: float
    kick_seconds: float
    kick_rebound_seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """How a recording of an electronic kit is read; seconds, and shares of velocity.

    Attributes:
        jitter_seconds: a gap counts this much longer.
        double_trigger_seconds: one pad twice within this is one stroke.
        crosstalk_seconds: strokes within this are at once.
        crosstalk_share: a third hand at once, this much softer than the loudest, is crosstalk.
        faint_share: and so is a second one, this much softer.
        bounce_gap_seconds: strokes of one pad within this may be bounces of a pressed stick or beater.
        bounce_share: a rebound or bounce is at most this much of the stroke before,
        bounce_steps: and so many steps of velocity.
        pedal_seconds: the pedal of the hi-hat closes once within this.
    """

    jitter_seconds: float
    double_trigger_seconds: float
    crosstalk_seconds: float
    crosstalk_share: float
    faint_share: float
    bounce_gap_seconds: float
    bounce_share: float
    bounce_steps: int
    pedal_seconds: float


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("motion.toml").read_text("utf-8"))


@cache
def players() -> dict[str, Player]:
    """Every player of the table by name, from the slowest to the fastest."""
    return {name: _read(name, row) for name, row in _table()["players"].items()}


def find_player(name: str) -> Player:
    """The player of that name.

    Raises:
        UnknownNameError: offering the nearest name.

    >>> find_player("gigging").stroke_seconds
    0.125
    """
    if name not in players():
        raise UnknownNameError.of("player", name, players())
    return players()[name]


@cache
def give(surface: str) -> tuple[float, float]:
    """How a surface slows a fresh stroke and a rebound, as factors; 1 for a snare."""
    stroke, rebound = _table()["surfaces"].get(surface, (1.0, 1.0))
    return float(stroke), float(rebound)


@cache
def recording() -> Recording:
    """How a recording is read."""
    return Recording(**_table()["reading"])


def _read(name: str, row: dict[str, Any]) -> Player:
    hand, foot = _table()["hand"], _table()["foot"]
    return Player(
        name=name,
        title=row["title"],
        stroke_seconds=hand["stroke_seconds"] * row["stroke"],
        rebound_seconds=hand["rebound_seconds"] * row["rebound"],
        rebounds=hand["rebounds"],
        rebound_least=hand["rebound_least"],
        bounce_seconds=hand["bounce_seconds"] * row["rebound"],
        bit_seconds=hand["bit_seconds"] * row["travel"],
        grace=hand["grace"],
        soft_velocity=hand["soft_velocity"],
        crossing_seconds=hand["crossing_seconds"] * row["travel"],
        clear_seconds=hand["clear_seconds"],
        reach_seconds=hand["reach_seconds"] * row["travel"],
        reach_cm=hand["reach_cm"],
        shoulder_cm=hand["shoulder_cm"],
        kick_seconds=foot["stroke_seconds"] * row["stroke"],
        kick_rebound_seconds=foot["rebound_seconds"] * row["rebound"],
    )
