"""The list of keys."""

from __future__ import annotations

from starlette.responses import Response

from fillwright.studio.ask import Ask
from fillwright.studio.render import page

KEYS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "Everywhere",
        (
            ("1 to 5", "the rooms: series, workshop, figures, students, settings"),
            ("?", "this list"),
        ),
    ),
    (
        "In a lesson",
        (
            ("← →", "the easier and the harder fill"),
            ("Space", "play and stop"),
            ("u d", "move the fill up or down within its figure"),
            ("p", "keep the fill as it is, written out in the lesson"),
            ("x", "drop the fill"),
            ("e", "edit the text"),
            ("b", "build the pack"),
        ),
    ),
    (
        "In the workshop",
        (
            ("← →", "the stroke before and behind"),
            ("↑ ↓", "the surface above and below"),
            ("h", "the other hand"),
            ("a g t", "accent, ghost note, tap"),
            ("f", "single, flam, drag, buzz in turn"),
            ("z y", "undo and redo"),
            ("Space", "play and stop"),
        ),
    ),
)
"""Every key, by the room in which it works."""


def show(ask: Ask) -> Response:
    """The list."""
    return page(ask, "keys.html", keys=KEYS)
