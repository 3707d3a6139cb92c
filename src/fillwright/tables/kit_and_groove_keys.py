"""The keys of a teacher's own grooves and kits in a lesson file; reading and the documentation share them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fillwright.craft.player.kits import Kit, find_kit
from fillwright.music.meter import meter
from fillwright.music.surfaces import surface
from fillwright.music.timing import FASTEST, SLOWEST
from fillwright.tables.keys import Key, UnfitError, choice, described, number, text, whole

MOST_LINES, MOST_SURFACES = 12, 16
USUAL_TEMPO = (60, 120)
"""Slowest and fastest tempo of a groove that names none (ours)."""

_FARTHEST_CM = 200


def _meter(value: object) -> str:
    return meter(text(80)(value)).name


def _tempo(value: object) -> tuple[int, int]:
    if not isinstance(value, list) or len(value) != 2:
        raise UnfitError(described(value))
    low, high = (whole(SLOWEST, FASTEST)(each) for each in value)
    if low >= high:
        raise UnfitError(f"{low} before {high}")
    return low, high


def _table(value: object) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise UnfitError(described(value))
    return value


def _surface(value: object) -> str:
    return surface(text(80)(value)).name


def _base(value: object) -> Kit:
    return find_kit(text(80)(value))


def _place(value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise UnfitError(described(value))
    x, y = (number(-_FARTHEST_CM, _FARTHEST_CM)(each) for each in value)
    return x, y


GROOVE_KEYS: tuple[Key, ...] = (
    Key(name="meter", allowed='a meter, such as "4/4"', read=_meter, required=True),
    Key(
        name="tempo",
        allowed=f"a list of two rising tempos from {SLOWEST} to {FASTEST}, such as [60, 120]",
        read=_tempo,
        default=[*USUAL_TEMPO],
    ),
    Key(
        name="lines",
        allowed=f'a list of at most {MOST_LINES} lines, such as [{{ surface = "kick", at = "1 3" }}]',
        read=_table,
        required=True,
        most=MOST_LINES,
    ),
)
"""The keys below a [grooves."name"]."""

LINE_KEYS: tuple[Key, ...] = (
    Key(name="surface", allowed='the name of a surface, such as "snare"', read=_surface, required=True),
    Key(name="hand", allowed='"R" or "L"', read=choice("R", "L")),
    Key(name="at", allowed='places in the bar, such as "1 & 2 & 3 & 4 &"', read=text(400), required=True),
)
"""The keys of one line of a groove."""

KIT_KEYS: tuple[Key, ...] = (
    Key(name="from", allowed='the name of one of our kits, such as "five-piece"', read=_base),
    Key(
        name="without",
        allowed='a list of surfaces, such as ["china", "splash"]',
        read=_surface,
        default=[],
        most=MOST_SURFACES,
    ),
    Key(
        name="surfaces",
        allowed=f"a list of at most {MOST_SURFACES} surfaces, such as "
        '[{ name = "splash", at = [1, 96], size = 25 }]',
        read=_table,
        default=[],
        most=MOST_SURFACES,
    ),
)
"""The keys below a [kits."name"]."""

SPOT_KEYS: tuple[Key, ...] = (
    Key(name="name", allowed='the name of a surface, such as "snare"', read=_surface, required=True),
    Key(
        name="at",
        allowed=f"centimetres to the right and to the front, each from -{_FARTHEST_CM} to {_FARTHEST_CM}, "
        "such as [1, 96]",
        read=_place,
        required=True,
    ),
    Key(name="size", allowed="a number of centimetres from 5 to 100", read=number(5, 100), required=True),
)
"""The keys of one surface of a kit."""
