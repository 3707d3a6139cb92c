"""Keys of a teacher's own grooves and kits in a lesson file; reading and the documentation share them."""

from __future__ import annotations

from fillwright.craft.player.kits import Kit, find_kit
from fillwright.music.meter import find_meter
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import FASTEST, SLOWEST
from fillwright.tables.values import (
    Key,
    RejectedValueError,
    accept_choice,
    accept_number,
    accept_table,
    accept_text,
    accept_whole,
    describe_value,
)

MOST_LINES, MOST_SURFACES = 12, 16  # of a groove and of a kit; ours
USUAL_TEMPO = (60, 120)  # slowest and fastest bpm of a groove that names none; ours

_FARTHEST_CM = 200  # from the drummer to the middle of a surface; ours, farther than an arm with a stick


def _read_meter(value: object) -> str:
    return find_meter(accept_text(80)(value)).name


def _read_tempos(value: object) -> tuple[int, int]:
    if not isinstance(value, list) or len(value) != 2:
        raise RejectedValueError(describe_value(value))
    low, high = (accept_whole(SLOWEST, FASTEST)(tempo) for tempo in value)
    if low >= high:
        raise RejectedValueError(f"{low} before {high}")
    return low, high


def _read_surface(value: object) -> str:
    return find_surface(accept_text(80)(value)).name


def _read_base(value: object) -> Kit:
    return find_kit(accept_text(80)(value))


def _read_position(value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise RejectedValueError(describe_value(value))
    x, y = (accept_number(-_FARTHEST_CM, _FARTHEST_CM)(number) for number in value)
    return x, y


GROOVE_KEYS: tuple[Key, ...] = (
    Key(name="meter", allowed='a meter, such as "4/4"', read=_read_meter, required=True),
    Key(
        name="tempo",
        allowed=f"a list of two rising tempos from {SLOWEST} to {FASTEST}, such as [60, 120]",
        read=_read_tempos,
        default=[*USUAL_TEMPO],
    ),
    Key(
        name="lines",
        allowed=f'a list of at most {MOST_LINES} lines, such as [{{ surface = "kick", at = "1 3" }}]',
        read=accept_table,
        required=True,
        most=MOST_LINES,
    ),
)
"""Keys below a [grooves."name"]."""

LINE_KEYS: tuple[Key, ...] = (
    Key(name="surface", allowed='the name of a surface, such as "snare"', read=_read_surface, required=True),
    Key(name="hand", allowed='"R" or "L"', read=accept_choice("R", "L")),
    Key(
        name="at", allowed='places in the bar, such as "1 & 2 & 3 & 4 &"', read=accept_text(400), required=True
    ),
)
"""Keys of one line of a groove."""

KIT_KEYS: tuple[Key, ...] = (
    Key(name="from", allowed='the name of one of our kits, such as "five-piece"', read=_read_base),
    Key(
        name="without",
        allowed='a list of surfaces, such as ["china", "splash"]',
        read=_read_surface,
        default=[],
        most=MOST_SURFACES,
    ),
    Key(
        name="surfaces",
        allowed=f"a list of at most {MOST_SURFACES} surfaces, such as "
        '[{ name = "splash", at = [1, 96], size = 25 }]',
        read=accept_table,
        default=[],
        most=MOST_SURFACES,
    ),
)
"""Keys below a [kits."name"]."""

SPOT_KEYS: tuple[Key, ...] = (
    Key(name="name", allowed='the name of a surface, such as "snare"', read=_read_surface, required=True),
    Key(
        name="at",
        allowed=f"centimetres to the right and to the front, each from -{_FARTHEST_CM} to {_FARTHEST_CM}, "
        "such as [1, 96]",
        read=_read_position,
        required=True,
    ),
    Key(
        name="size", allowed="a number of centimetres from 5 to 100", read=accept_number(5, 100), required=True
    ),
)
"""Keys of one surface of a kit."""
