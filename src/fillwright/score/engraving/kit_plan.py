"""The kit from above with each hand's path over it, strokes numbered.

The right hand is a solid line and the left a dashed one, so that the plan prints in grey; feet are marked on
their pedal. Numbers count the strokes of the fill in time, what sounds together having one number.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot
from xml.sax.saxutils import escape

from fillwright.craft.player.kits import PART_OF, Kit, Spot
from fillwright.music.hit import Hit
from fillwright.music.stroke import Limb
from fillwright.music.surfaces import find_surface
from fillwright.score.engraving.drawing import SANS

INK, HAIRLINE, PAPER = "#1c1a17", "#b9b2a4", "#ffffff"
HAND_COLOURS = {Limb.RIGHT: "#8a4f12", Limb.LEFT: "#1f5a63"}

_DASHES = {Limb.RIGHT: "", Limb.LEFT: ' stroke-dasharray="5 3.2"'}
_SIDE = {Limb.RIGHT: 1, Limb.LEFT: -1}  # direction across: a hand keeps to its own side of the middle

# Sizes in centimetres of the kit (ours, not measured).
_MARGIN_CM = 3.0  # round the drawing
_NUMBER_CM = 7.4  # size of a stroke's number
_NAME_CM = 5.2  # size of a drum's name, at most

_PIXELS_A_CM = 2.3  # pixels of a page to a centimetre of the kit (ours, not measured)
_LETTER = 0.52  # average width of a figure, as a share of its size (ours, not measured)
_ALWAYS = ("snare", "hi-hat", "high tom", "mid tom", "floor tom", "ride bow", "crash", "kick")


@dataclass(frozen=True, slots=True, kw_only=True)
class KitPlan:
    """A drawn plan of a kit.

    Attributes:
        svg: a whole SVG document, its user unit a centimetre of the kit.
        width_cm: width, in centimetres of the kit.
        height_cm: height, in centimetres of the kit.
    """

    svg: str
    width_cm: float
    height_cm: float


def draw_kit_plan(hits: Sequence[Hit], kit: Kit) -> KitPlan:
    """Draw the kit and how the hands go round it in some hits.

    Args:
        hits: of a fill, in time order.
        kit: with every surface that the hits strike.
    """
    numbers = _number_strokes(hits)
    drawn = _choose_circles(kit, {*_ALWAYS, *numbers})
    body = [_draw_drum(name, spot, used=False) for name, spot in drawn if name not in numbers]
    body += [_draw_drum(name, spot, used=True) for name, spot in drawn if name in numbers]
    body += [_draw_path(limb, hits, kit) for limb in (Limb.LEFT, Limb.RIGHT)]
    for index, (name, spot) in enumerate(drawn):
        if name in numbers:
            covered = any(above in numbers and _covers(lying, spot) for above, lying in drawn[index + 1 :])
            body.append(_write_numbers(name, spot, numbers[name], covered=covered))
    return _make_plan(body, [spot for _, spot in drawn])


def draw_kit(kit: Kit) -> KitPlan:
    """Draw a kit and nothing played on it, in one scale for all; a drum has a name where its middle is seen."""
    drawn = _choose_circles(kit, kit.spots)
    body = [_draw_drum(name, spot, used=True) for name, spot in drawn]
    for index, (name, spot) in enumerate(drawn):
        if not any(_covers(above, spot) for _, above in drawn[index + 1 :]):
            label = find_surface(name).label
            fits = spot.size * 0.9 / (len(label) * _LETTER)
            body.append(_write_text(spot.x, -spot.y, round(min(_NAME_CM, fits), 1), label))
    return _make_plan(body, [spot for _, spot in drawn], scale=_PIXELS_A_CM)


def _make_plan(body: Sequence[str], spots: Sequence[Spot], *, scale: float = 0) -> KitPlan:
    """Make a drawing as wide as what it is put into, or in a scale of so many pixels a centimetre."""
    left, top, right, bottom = _measure_frame(spots)
    width, height = right - left, bottom - top
    wide = f'width="{width * scale:g}" ' if scale else ""
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {wide}viewBox="{left:g} {top:g} {width:g} {height:g}" '
        f'font-family="{SANS}" text-anchor="middle" fill="none">{"".join(body)}</svg>'
    )
    return KitPlan(svg=svg, width_cm=width, height_cm=height)


def _name_circle(name: str) -> str:
    """Name the circle that a surface belongs to."""
    return PART_OF.get(name, name)


def _choose_circles(kit: Kit, wanted: Collection[str]) -> list[tuple[str, Spot]]:
    """Choose the circles to draw, the lower before the higher."""
    circles = [
        (name, spot) for name, spot in kit.spots.items() if _name_circle(name) == name and name in wanted
    ]
    return sorted(circles, key=lambda pair: (_is_cymbal(pair[0]), pair[0] != "kick"))


def _measure_frame(spots: Sequence[Spot]) -> tuple[float, float, float, float]:
    """Measure left, top, right and bottom of the drawing; y grows downwards."""
    return (
        min(s.x - s.size / 2 for s in spots) - _MARGIN_CM,
        min(-s.y - s.size / 2 for s in spots) - _MARGIN_CM,
        max(s.x + s.size / 2 for s in spots) + _MARGIN_CM,
        max(-s.y + s.size / 2 for s in spots) + _MARGIN_CM,
    )


def _draw_drum(name: str, spot: Spot, *, used: bool) -> str:
    """Draw a circle; a cymbal has its bell, a kick is a barrel seen from above."""
    colour, width = (INK, 0.9) if used else (HAIRLINE, 0.6)
    line = f'stroke="{colour}" stroke-width="{width}"' + (f' fill="{PAPER}"' if used else "")
    x, y, r = spot.x, -spot.y, spot.size / 2
    if name == "kick":
        wide, deep = r * 1.5, r * 1.2
        corner = f'x="{x - wide / 2:g}" y="{y - deep / 2:g}"'
        return f'<rect {corner} width="{wide:g}" height="{deep:g}" rx="3" {line}/>'
    rim = f'<circle cx="{x:g}" cy="{y:g}" r="{r:g}" {line}/>'
    bell = f'<circle cx="{x:g}" cy="{y:g}" r="{r * 0.18:g}" {line}/>'
    return rim + bell if _is_cymbal(name) and not used else rim


def _is_cymbal(name: str) -> bool:
    return find_surface(name).is_cymbal


def _number_strokes(hits: Sequence[Hit]) -> dict[str, list[int]]:
    """Number the strokes on each circle."""
    order = {at: n for n, at in enumerate(sorted({hit.at for hit in hits}), start=1)}
    by_circle: dict[str, list[int]] = {}
    for hit in hits:
        by_circle.setdefault(_name_circle(hit.surface.name), []).append(order[hit.at])
    return {name: sorted(set(own_numbers)) for name, own_numbers in by_circle.items()}


def _covers(above: Spot, spot: Spot) -> bool:
    """Return True if a circle lies over the middle of another."""
    return spot.distance_cm(above) <= above.size / 2


def _write_numbers(name: str, spot: Spot, numbers: list[int], *, covered: bool) -> str:
    """Write the numbers of the strokes above the middle, where no path ends; higher on a covered drum."""
    words = format_numbers(numbers, int(spot.size * 0.92 / (_NUMBER_CM * _LETTER)))
    return _write_text(spot.x, -spot.y - spot.size * (0.2 if covered else 0.06), _NUMBER_CM, words, title=name)


def _write_text(x: float, y: float, size_cm: float, words: str, *, title: str = "") -> str:
    title_element = f"<title>{escape(title)}</title>" if title else ""
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size_cm}" fill="{INK}" font-weight="600" stroke="{PAPER}" '
        f'stroke-width="1.6" paint-order="stroke">{title_element}{escape(words)}</text>'
    )


def format_numbers(numbers: Sequence[int], most_letters: int) -> str:
    """Format numbers in few letters: runs as "1–4", a row too long for its place as its first and last.

    >>> format_numbers([1, 2, 3, 4, 9], 11)
    '1–4 9'
    >>> format_numbers([1, 3, 5, 7, 9, 11, 13, 15], 11)
    '1 3 … 15'
    >>> format_numbers([1, 3, 5, 7, 9, 11, 13, 15], 7)
    '1 … 15'
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words = [f"{run[0]}–{run[-1]}" if len(run) > 2 else " ".join(map(str, run)) for run in runs]
    choices = [" ".join(words), f"{words[0]} {words[min(1, len(words) - 1)]} … {numbers[-1]}"]
    fitting = (choice for choice in choices if len(choice) <= most_letters)
    return next(fitting, f"{numbers[0]} … {numbers[-1]}")


def _draw_path(limb: Limb, hits: Sequence[Hit], kit: Kit) -> str:
    """Draw the ways of one hand, each once, its first stroke marked with a dot."""
    strokes = [hit for hit in hits if hit.stroke.hand is limb]
    if not strokes:
        return ""
    colour = HAND_COLOURS[limb]
    stops = [_place_stop(hit, kit, limb) for hit in strokes]
    ways = dict.fromkeys((a, b) for a, b in pairwise(stops) if a != b)
    start = stops[0]
    dot = f'<circle cx="{start[0]:g}" cy="{start[1]:g}" r="2" fill="{colour}"/>'
    return dot + "".join(_draw_way(a, b, limb) for a, b in ways)


def _place_stop(hit: Hit, kit: Kit, limb: Limb) -> tuple[float, float]:
    """Place where a hand meets a surface: on its own side of the middle, below the numbers."""
    spot = kit.spot(_name_circle(hit.surface.name))
    return spot.x + _SIDE[limb] * spot.size * 0.16, -spot.y + spot.size * 0.2


def _draw_way(start: tuple[float, float], end: tuple[float, float], limb: Limb) -> str:
    """Draw a bowed line with a small head."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    bow = 0.16 * _SIDE[limb]
    bend_x, bend_y = (start[0] + end[0]) / 2 - dy * bow, (start[1] + end[1]) / 2 + dx * bow
    norm = hypot(end[0] - bend_x, end[1] - bend_y)
    ux, uy = (end[0] - bend_x) / norm, (end[1] - bend_y) / norm

    def behind(along: float, across: float) -> str:
        """Return a place so far behind the tip and next to the line."""
        return f"{end[0] - ux * along - uy * across:.1f} {end[1] - uy * along + ux * across:.1f}"

    line = f"M{start[0]:.1f} {start[1]:.1f}Q{bend_x:.1f} {bend_y:.1f} {behind(3, 0)}"
    head = f"M{behind(0, 0)}L{behind(4.8, 2)}L{behind(4.8, -2)}Z"
    colour = HAND_COLOURS[limb]
    return (
        f'<path d="{line}" stroke="{colour}" stroke-width="1.3"{_DASHES[limb]}/>'
        f'<path d="{head}" fill="{colour}"/>'
    )
