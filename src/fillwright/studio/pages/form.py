"""A lesson edited by form: the same text behind it, comments and all."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from starlette.responses import Response

from fillwright.craft.brief import TEACHING_ORDER
from fillwright.craft.player.kits import kits
from fillwright.craft.player.players import players
from fillwright.errors import FillwrightError, FitError, NotThereError
from fillwright.lesson.edit import figure_rows, with_figures, with_own, with_values
from fillwright.lesson.file import Lesson
from fillwright.music.grooves import grooves
from fillwright.music.rudiments import rudiments
from fillwright.store.lessons import newest, one_lesson, one_series
from fillwright.store.lessons import save_text as save
from fillwright.store.settings import all_own, own_tables
from fillwright.studio.pages.figures import own_figures, with_own_figure
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.work.lessons import parsed

_TEXTS = ("title", "purpose", "teacher", "series", "tempo")
_NUMBERS = ("number", "bars", "per_step")
_CHOICES = ("groove", "level", "hand", "kit", "page", "audio")
_FIGURE = ("name", "rhythm", "groove", "sticking")
_NEW_ROWS = 3
_MOST_ROWS = 60


def show(ask: Ask) -> Response:
    """The form, filled in."""
    number = ask.number("lesson")
    with ask.reading() as desk:
        text = newest(desk, number).text
    lesson = parsed(text)
    return _show(ask, _values(lesson), figure_rows(text))


def change(ask: Ask) -> Response:
    """Put what was filled in into the text, and save it as a new version."""
    number = ask.number("lesson")
    rows = [
        {key: ask.text(f"figure-{index}-{key}").strip() for key in _FIGURE}
        for index in range(_MOST_ROWS)
        if f"figure-{index}-name" in ask.fields
    ]
    try:
        with ask.writing() as desk:
            text = newest(desk, number).text
            text = with_values(text, _asked(ask, _values(parsed(text))))
            text = with_figures(text, [with_own_figure(desk, row) for row in rows])
            for kind in ("groove", "kit"):
                text = with_own(text, kind, {one.name: one.text for one in all_own(desk, kind)})
            save(desk, number, text)
    except NotThereError:
        raise
    except FillwrightError as error:
        empty = dict.fromkeys((*_TEXTS, *_NUMBERS, *_CHOICES, "landing", "notes"), "")
        given = {**empty, **ask.fields, "steps": ask.lists.get("steps", ()), "click": "click" in ask.fields}
        return _show(ask, given, rows, wrong=_in_a_form(str(error)), status=422)
    return back_to(f"/lessons/{number}", "saved")


def _asked(ask: Ask, before: Mapping[str, Any]) -> dict[str, Any]:
    """The keys that were changed, as TOML has them; None for one that was emptied."""
    asked: dict[str, Any] = {}
    for name in (*_TEXTS, *_CHOICES):
        asked[name] = ask.text(name).strip() or None
    for name in _NUMBERS:
        text = ask.text(name).strip()
        asked[name] = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else text
    asked["landing"] = [part.strip() for part in ask.text("landing").split(",") if part.strip()]
    asked["notes"] = [line.strip() for line in ask.text("notes").splitlines() if line.strip()]
    asked["steps"] = list(ask.lists.get("steps", ()))
    if not asked["steps"]:
        raise FitError("No step is ticked, so there would be no fill; tick one or more.")
    asked["click"] = "click" in ask.fields
    same = {**before, "landing": _split(before["landing"]), "notes": before["notes"].splitlines()}
    return {
        name: value for name, value in asked.items() if value != (same[name] or None) and value != same[name]
    }


def _in_a_form(mistakes: str) -> str:
    """Mistakes of a lesson file as a form tells them: it has no lines."""
    return re.sub(r"^lesson\.toml, line \d+, ", "", mistakes, flags=re.MULTILINE)


def _split(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def _values(lesson: Lesson) -> dict[str, Any]:
    """What a lesson says, as the form shows it."""
    return {
        "title": lesson.title,
        "purpose": lesson.purpose,
        "teacher": lesson.teacher,
        "series": lesson.series,
        "tempo": ", ".join(map(str, lesson.tempo)),
        "number": lesson.number,
        "bars": lesson.bars,
        "per_step": lesson.per_step,
        "groove": lesson.groove.name,
        "level": lesson.level,
        "hand": "left" if lesson.hand.value == "L" else "right",
        "kit": lesson.kit.name,
        "page": lesson.page,
        "audio": lesson.audio,
        "landing": ", ".join(lesson.landing),
        "notes": "\n".join(lesson.notes),
        "steps": [kind.value for kind in lesson.kinds],
        "click": bool(lesson.click),
    }


def _show(
    ask: Ask, values: Mapping[str, Any], rows: list[dict[str, str]], *, wrong: str = "", status: int = 200
) -> Response:
    number = ask.number("lesson")
    with ask.reading() as desk:
        saved = one_lesson(desk, number)
        series = one_series(desk, saved.series)
        own = parsed(newest(desk, number).text).own.beside(own_tables(desk))
        figures = own_figures(desk)
    empty = [dict.fromkeys(_FIGURE, "") for _ in range(_NEW_ROWS)]
    return page(
        ask,
        "lesson-form.html",
        status=status,
        saved=saved,
        series=series,
        given=values,
        rows=[*rows, *empty],
        wrong=wrong,
        names=[one.name for one in (*figures, *rudiments())],
        steps=[kind.value for kind in TEACHING_ORDER],
        choices={
            "groove": [one.name for one in (*own.grooves, *grooves())],
            "level": list(players()),
            "hand": ["right", "left"],
            "kit": [one.name for one in (*own.kits, *kits().values())],
            "page": ["a4", "letter"],
            "audio": ["mp3", "flac", "ogg", "wav"],
        },
    )
