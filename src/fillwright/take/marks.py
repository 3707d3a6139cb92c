"""The marks of a take's picture: lines, ticks and words, in the engraver's units of 1/120 mm.

Nothing is shown by colour alone. The right hand is a solid line, the left a dashed one; early is left of the
line, late right of it; a missing stroke is a ring.
"""

from __future__ import annotations

from xml.sax.saxutils import escape

from fillwright.score.engraving.drawing import SANS, SERIF

PER_MM = 120
"""Units of the engraver to a millimetre, at its usual size."""

INK, SOFT, RULE, RIGHT, LEFT = "#1c1a17", "#5b564e", "#8b8478", "#8a4f12", "#1f5a63"
DASH = "42 34"

COLOURS = {"R": RIGHT, "L": LEFT}


def choose_colour(hand: str) -> str:
    """Return the colour of a hand; feet and unknown hands are drawn in ink."""
    return COLOURS.get(hand, INK)


def draw_line(x1: float, y1: float, x2: float, y2: float, *, width: float, stroke: str, dash: str = "") -> str:
    """Return a straight line as SVG."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="M{x1:.0f} {y1:.0f} L{x2:.0f} {y2:.0f}" stroke="{stroke}" stroke-width="{width:g}" '
        f'fill="none"{dashed}/>'
    )


def draw_polyline(points: list[tuple[float, float]], *, width: float, stroke: str) -> str:
    """Return a line through points as SVG."""
    places = " ".join(f"{x:.0f},{y:.0f}" for x, y in points)
    return f'<polyline points="{places}" stroke="{stroke}" stroke-width="{width:g}" fill="none"/>'


def draw_ring(x: float, y: float, radius: float, *, stroke: str, width: float = 22) -> str:
    """Return a hollow circle as SVG."""
    return (
        f'<circle cx="{x:.0f}" cy="{y:.0f}" r="{radius:g}" fill="#ffffff" stroke="{stroke}" '
        f'stroke-width="{width:g}"/>'
    )


def draw_dot(x: float, y: float, radius: float, *, fill: str) -> str:
    """Return a filled circle as SVG."""
    return f'<circle cx="{x:.0f}" cy="{y:.0f}" r="{radius:g}" fill="{fill}"/>'


def draw_square(x: float, y: float, side: float, *, stroke: str) -> str:
    """Return a hollow square round its middle as SVG."""
    return (
        f'<rect x="{x - side / 2:.0f}" y="{y - side / 2:.0f}" width="{side:g}" height="{side:g}" fill="none" '
        f'stroke="{stroke}" stroke-width="18"/>'
    )


def draw_wedge(x: float, y: float, size: float, *, fill: str) -> str:
    """Return a small triangle that points up at its tip as SVG."""
    return (
        f'<path d="M{x:.0f} {y:.0f} L{x + size / 2:.0f} {y + size:.0f} '
        f'L{x - size / 2:.0f} {y + size:.0f} Z" fill="{fill}"/>'
    )


def draw_text(
    x: float,
    y: float,
    text: str,
    *,
    size: float = 285,
    fill: str = SOFT,
    anchor: str = "start",
    serif: bool = False,
) -> str:
    """Return words as SVG."""
    family = SERIF if serif else SANS
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" font-size="{size:g}" font-family="{family}" fill="{fill}" '
        f'text-anchor="{anchor}">{escape(text)}</text>'
    )
