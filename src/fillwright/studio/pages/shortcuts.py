"""The list of keys."""

from __future__ import annotations

from starlette.responses import Response

from fillwright.studio.web.render import page
from fillwright.studio.web.request import Ask
from fillwright.studio.web.visitor import Role

Keys = tuple[tuple[str, tuple[tuple[str, str], ...]], ...]

_TAKE: Keys = (
    (
        "Where a take is recorded",
        (
            ("r", "record with the microphone"),
            ("m", "play an electronic kit"),
            ("Escape", "stop, and keep nothing"),
        ),
    ),
)

TEACHERS: Keys = (
    (
        "Everywhere",
        (
            ("1 to 5", "the rooms: series, workshop, figures, students, settings"),
            ("?", "this list"),
            ("s", "save, where there is something to be saved"),
        ),
    ),
    (
        "In a lesson",
        (
            ("← →", "the fill before and the next"),
            ("Space", "play and stop"),
            ("u d", "move the fill up or down within its figure"),
            ("p", "keep the fill as it is, written out in the lesson"),
            ("x", "drop the fill"),
            (".", "another route for the fill, in the workshop"),
            ("e", "edit the text"),
            ("b", "build the pack"),
        ),
    ),
    (
        "In the workshop",
        (
            ("[ ]", "the chain before and the next"),
            (", .", "the route before and the next"),
            ("← →", "the stroke before and behind"),
            ("↑ ↓", "the surface above and below"),
            ("h", "the other hand"),
            ("a t g", "accent, tap, ghost note"),
            ("f", "single, flam, drag, buzz in turn"),
            ("z y", "undo and redo"),
            ("Space", "play and stop"),
        ),
    ),
    ("On the sheet of a figure", (("Space", "play and stop"),)),
    *_TAKE,
)
STUDENTS: Keys = (("Everywhere", (("1", "your practice"), ("?", "this list"))), *_TAKE)
"""Every key, by the room in which it works."""


def show(ask: Ask) -> Response:
    """The list."""
    return page(ask, "keys.html", keys=TEACHERS if ask.visitor.role is Role.TEACHER else STUDENTS)
