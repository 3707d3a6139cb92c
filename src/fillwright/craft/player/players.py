"""Players: speed and reach of hands and feet, from the table `motion.toml`."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from fillwright.errors import UnknownNameError


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """A player's times in seconds and lengths in cm; `motion.toml` names their sources.

    Attributes:
        name: its name in files and options.
        title: its name on a page.
        stroke_seconds: a fresh stroke of a hand.
        rebound_seconds: the second stroke of a double.
        rebounds: number of strokes that may follow a fresh one by rebound.
        rebound_least: the least demand of a rebound.
        bounce_seconds: a bounce of a pressed stick.
        bit_seconds: carrying the stick, for each bit of Fitts's index.
        grace: share of a fresh stroke that a grace note takes.
        soft_velocity: the loudest stroke that starts as low as a grace note, as a MIDI velocity.
        crossing_seconds: one stick passing the other.
        clear_seconds: a hand that struck longer ago is out of the way.
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
class TriggerThresholds:
    """Thresholds for reading a recording of an electronic kit; seconds, and shares of MIDI velocity.

    Attributes:
        jitter_seconds: time added to each gap.
        double_trigger_seconds: two strokes on one pad within this time are one stroke.
        crosstalk_seconds: strokes within this time are at once.
        crosstalk_share: of three hands at once, one softer than this share of the loudest is crosstalk.
        faint_share: of two hands at once, one softer than this share of the other is crosstalk.
        bounce_gap_seconds: strokes on one pad within this time may be bounces of a pressed stick or beater.
        bounce_share: a rebound or bounce has at most this share of the velocity before it,
        bounce_steps: plus this many steps of velocity.
        pedal_seconds: the hi-hat pedal closes at most once within this time.
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
def load_players() -> dict[str, Player]:
    """Return every player of the table by name, from the slowest to the fastest."""
    return {name: _read(name, row) for name, row in _table()["players"].items()}


def find_player(name: str) -> Player:
    """Return the player of that name.

    Raises:
        UnknownNameError: with the nearest known name.

    >>> find_player("gigging").stroke_seconds
    0.125
    """
    if name not in load_players():
        raise UnknownNameError.of("player", name, load_players())
    return load_players()[name]


@cache
def find_surface_factors(surface: str) -> tuple[float, float]:
    """Return the factors on the time of a fresh stroke and of a rebound on a surface; 1 for a snare."""
    stroke, rebound = _table()["surfaces"].get(surface, (1.0, 1.0))
    return float(stroke), float(rebound)


@cache
def load_trigger_thresholds() -> TriggerThresholds:
    """Return the thresholds of `motion.toml`."""
    return TriggerThresholds(**_table()["reading"])


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
