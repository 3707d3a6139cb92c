"""The help pages: shortcuts and the glossary."""

from __future__ import annotations

from starlette.responses import Response

from fillwright.lesson.glossary import load_glossary
from fillwright.studio.web.render import render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.web.visitor import Role

Shortcuts = tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
"""Headings, each with its keys and what they do."""

_TAKE: Shortcuts = (
    (
        "Record a take",
        (
            ("r", "record with the microphone"),
            ("m", "record an electronic kit"),
            ("Escape", "stop without saving"),
        ),
    ),
)

TEACHER_SHORTCUTS: Shortcuts = (
    (
        "Every page",
        (
            ("1 to 5", "open Series, Workshop, Figures, Students or Settings"),
            ("?", "show this list"),
            ("s", "save the form"),
        ),
    ),
    (
        "Lesson",
        (
            ("← →", "previous and next fill"),
            ("Space", "play and stop"),
            ("u d", "move the fill up or down within its figure"),
            ("p", "pin the fill"),
            ("x", "remove the fill"),
            (".", "try another route in the workshop"),
            ("e", "edit the text"),
            ("b", "build the pack"),
        ),
    ),
    (
        "Workshop",
        (
            ("[ ]", "previous and next chain"),
            (", .", "previous and next route"),
            ("← →", "previous and next stroke"),
            ("↑ ↓", "next drum or cymbal up or down"),
            ("h", "other hand"),
            ("a t g", "accent, tap, ghost note"),
            ("f", "single, flam, drag, buzz in turn"),
            ("z y", "undo and redo"),
            ("Space", "play and stop"),
        ),
    ),
    ("Figure", (("Space", "play and stop"),)),
    *_TAKE,
)
STUDENT_SHORTCUTS: Shortcuts = (("Every page", (("1", "open your practice"), ("?", "show this list"))), *_TAKE)
"""Every shortcut, by the page on which it works."""


def show_shortcuts(request: PageRequest) -> Response:
    """Show the shortcuts."""
    is_teacher = request.visitor.role is Role.TEACHER
    return render_page(
        request, "shortcuts.html", shortcuts=TEACHER_SHORTCUTS if is_teacher else STUDENT_SHORTCUTS
    )


def show_glossary(request: PageRequest) -> Response:
    """Show the glossary."""
    return render_page(request, "glossary.html", terms=load_glossary())
