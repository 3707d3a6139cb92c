"""A lesson: its staircase of fills, one of them large, and its text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from starlette.responses import Response

from fillwright.craft.written_fills import written_of
from fillwright.errors import FillwrightError, NotThereError
from fillwright.lesson.edit import brought_back, kept_as, left_out, ordered, with_own, with_values
from fillwright.lesson.fills import LessonFill
from fillwright.lesson.written_fills import fill_values
from fillwright.store.lessons import add_lesson, lessons_of, newest, one_lesson, one_series, versions
from fillwright.store.lessons import put_away as take_out
from fillwright.store.lessons import save_text as save
from fillwright.store.settings import KINDS, all_own, settings
from fillwright.studio.pages.figures import own_figure_text
from fillwright.studio.pages.settings import BEGINS
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.work.lessons import (
    NARROW_MM,
    WIDE_MM,
    Worked,
    drawn,
    parsed,
    placed,
    plan_drawn,
    work_out,
)

_FIRST_TEXT = """number = {number}
title = "Lesson {number}"
purpose = "What this lesson is for, in one sentence."
tempo = "60..100 step 10"

[[figure]]
name = "single paradiddle"
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stair:
    """A fill on the staircase of a lesson: how far to the right and how high it stands, both from 0."""

    fill: LessonFill
    place: int
    height: int


def show(ask: Ask) -> Response:
    """The lesson, the fill that the address names large."""
    number = ask.number("lesson")
    with ask.reading() as desk:
        saved = one_lesson(desk, number)
        series = one_series(desk, saved.series)
        found = work_out(desk, number)
    name = ask.request.query_params.get("fill", "")
    try:
        fill = found.fill(name) if name else next(iter(found.fills), None)
    except NotThereError:
        fill = next(iter(found.fills), None)
    return page(ask, "lesson.html", saved=saved, series=series, found=found, **_shown(found, fill))


def _shown(found: Worked, fill: LessonFill | None) -> dict[str, Any]:
    stairs = [
        Stair(fill=one, place=place, height=one.step.route.grade - 1) for place, one in enumerate(found.fills)
    ]
    if fill is None:
        return {"fill": None, "stairs": stairs}
    place = found.fills.index(fill)
    return {
        "fill": fill,
        "stairs": stairs,
        "before": found.fills[place - 1] if place else None,
        "after": found.fills[place + 1] if place + 1 < len(found.fills) else None,
        "wide": drawn(found, fill.name, WIDE_MM),
        "narrow": drawn(found, fill.name, NARROW_MM),
        "plan": plan_drawn(found, fill.name),
        "other_routes": _in_workshop(found, fill),
    }


def _in_workshop(found: Worked, fill: LessonFill) -> dict[str, str]:
    """The fill as the workshop takes it, to be laid on another route."""
    beats = fill.phrase.meter.beats_in(fill.step.route.span.length)
    own = written_of(fill.step.route, name=fill.step.route.words, beats=beats)
    return {
        **fill_values(own),
        "replaces": fill.name,
        "groove": fill.groove,
        "kit": found.lesson.kit.name,
        "player": found.lesson.level,
        "tempo": str(fill.ladder[0]),
    }


def new_page(ask: Ask) -> Response:
    """A text to begin a lesson with."""
    number = ask.number("series")
    with ask.reading() as desk:
        series = one_series(desk, number)
    return page(ask, "lesson-text.html", series=series, saved=None, text=_first(ask), wrong="", lines=())


def _first(ask: Ask) -> str:
    """A text with the next number, and the teacher's settings where a lesson without them is otherwise."""
    with ask.reading() as desk:
        numbers = [one.number for one in lessons_of(desk, ask.number("series"), put_away=True)]
        kept = settings(desk)
        own = {one.name: one.text for one in all_own(desk, "kit")}
    text = _FIRST_TEXT.format(number=max(numbers, default=0) + 1)
    asked = {name: kept[name] for name, usual in BEGINS.items() if kept.get(name, usual) != usual}
    return with_own(with_values(text, asked), "kit", own)


def new(ask: Ask) -> Response:
    """Save a new lesson."""
    number = ask.number("series")
    try:
        with ask.writing() as desk:
            lesson = add_lesson(desk, number, ask.text("text"))
    except NotThereError:
        raise
    except FillwrightError as error:
        with ask.reading() as desk:
            series = one_series(desk, number)
        return _wrong_text(ask, error, series=series, saved=None)
    return back_to(f"/lessons/{lesson}", "saved")


def text_page(ask: Ask) -> Response:
    """The text of a lesson, every saved version below it."""
    number = ask.number("lesson")
    with ask.reading() as desk:
        saved = one_lesson(desk, number)
        series = one_series(desk, saved.series)
        kept = versions(desk, number)
    wanted = ask.request.query_params.get("version", "")
    text = next((one.text for one in kept if str(one.id) == wanted), kept[0].text)
    return page(ask, "lesson-text.html", series=series, saved=saved, text=text, wrong="", lines=(), kept=kept)


def save_text(ask: Ask) -> Response:
    """Save a version of the text."""
    number = ask.number("lesson")
    try:
        with ask.writing() as desk:
            save(desk, number, ask.text("text"))
    except NotThereError:
        raise
    except FillwrightError as error:
        with ask.reading() as desk:
            saved = one_lesson(desk, number)
            series = one_series(desk, saved.series)
        return _wrong_text(ask, error, series=series, saved=saved)
    return back_to(f"/lessons/{number}", "saved")


def put_away(ask: Ask) -> Response:
    """Take a lesson out of its series, or back in."""
    number = ask.number("lesson")
    with ask.writing() as desk:
        saved = one_lesson(desk, number)
        take_out(desk, number, away=not saved.put_away)
    return back_to(f"/series/{saved.series}", "saved")


def change_fill(ask: Ask) -> Response:
    """Drop a fill, keep it as it is, or move it up or down within its figure."""
    number, name = ask.number("lesson"), str(ask.request.path_params["fill"])
    with ask.writing() as desk:
        found = work_out(desk, number)
        text = newest(desk, number).text
        fill = found.fill(name)
        what = str(ask.request.path_params["what"])
        if what not in _CHANGES:
            raise NotThereError("There is no such page.")
        text, next_name = _CHANGES[what](text, found, fill)
        if what == "pin":
            text, next_name = placed(desk, number, text, fill)
        save(desk, number, text)
    said = {"drop": "dropped", "pin": "pinned"}.get(what, "")
    return back_to(f"/lessons/{number}?fill={next_name}" if next_name else f"/lessons/{number}", said)


def bring_back(ask: Ask) -> Response:
    """Bring back a fill that was dropped."""
    number, name = ask.number("lesson"), str(ask.request.path_params["dropped"])
    with ask.writing() as desk:
        text = newest(desk, number).text
        if name not in parsed(text).leave_out:
            raise NotThereError(f"No fill called {name} was dropped from this lesson.")
        save(desk, number, brought_back(text, name))
    return back_to(f"/lessons/{number}?fill={name}", "brought-back")


def _drop(text: str, found: Worked, fill: LessonFill) -> tuple[str, str]:
    names = [one.name for one in found.fills]
    place = names.index(fill.name)
    rest = names[:place] + names[place + 1 :]
    return left_out(text, fill), rest[min(place, len(rest) - 1)] if rest else ""


def _pin(text: str, found: Worked, fill: LessonFill) -> tuple[str, str]:
    """Written out in the lesson, in the place of the one that was worked out."""
    meter = fill.phrase.meter
    beats = meter.beats_in(fill.step.route.span.length)
    kept = kept_as(left_out(text, fill), fill, name=fill.step.route.words, beats=beats)
    del found
    return kept, ""


def _moved(by: int):  # type: ignore[no-untyped-def]
    def move(text: str, found: Worked, fill: LessonFill) -> tuple[str, str]:
        names = [one.name for one in found.fills if one.part == fill.part]
        place = names.index(fill.name)
        other = min(max(place + by, 0), len(names) - 1)
        names.insert(other, names.pop(place))
        apart = [name for name in parsed(text).order if name not in names]
        return ordered(text, [*apart, *names]), fill.name

    return move


_CHANGES = {"drop": _drop, "pin": _pin, "up": _moved(-1), "down": _moved(1)}


def _own_to_write(ask: Ask, mistakes: str) -> Iterator[str]:
    """What is to be written for something of the teacher's own that a text names and does not hold."""
    with ask.reading() as desk:
        every = [one for kind in KINDS for one in all_own(desk, kind)]
    for one in every:
        if f'no {one.kind} called "{one.name}"'.casefold() in mistakes.casefold():
            told = own_figure_text(one) if one.kind == "figure" else one.text.strip()
            yield f'"{one.name}" is a {one.kind} of your own; choose it in the form, or write it out:\n{told}'


def _wrong_text(ask: Ask, error: FillwrightError, **values: Any) -> Response:
    """The text again, with every mistake and its line."""
    sentences: Sequence[str] = (*str(error).splitlines(), *_own_to_write(ask, str(error)))
    return page(
        ask,
        "lesson-text.html",
        status=422,
        text=ask.text("text"),
        wrong="\n".join(sentences),
        lines=sentences,
        kept=(),
        **values,
    )
