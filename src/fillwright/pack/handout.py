"""The handout: what to practise and in what order, every fill engraved, the key, advice and cautions."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from itertools import groupby
from typing import Any

from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill, capitalise
from fillwright.lesson.glossary import get_term
from fillwright.music.figure import Figure
from fillwright.music.hit import Hit
from fillwright.music.stroke import Limb
from fillwright.pack.hints import describe_grade
from fillwright.score.engraving.engrave import Engraving, engrave_key
from fillwright.score.engraving.kit_plan import KitPlan, draw_kit_plan
from fillwright.score.engraving.notation_key import find_signs
from fillwright.score.engraving.paper import typeset

PAGE_WIDTHS_MM = {"a4": 210.0, "letter": 215.9}  # ISO 216; ANSI/ASME Y14.1 (from memory)
_MARGINS_MM = 36.0  # both margins together, as in parts.typ; ours
_PLAN_MM, _PLAN_GAP_MM = 42.0, 5.0  # width of a plan, and space between it and the music; ours
_EXPLAINED = ("grade", "top tempo", "ladder")
_TYPST_PAPERS = {"a4": "a4", "letter": "us-letter"}


def get_measure_mm(page: str) -> float:
    """Return the width of the music on a page of that name, in mm."""
    return PAGE_WIDTHS_MM[page] - _MARGINS_MM


def get_music_mm(lesson: Lesson, fill: LessonFill) -> float:
    """Return the width of a fill's music in mm: less where a plan of the kit is next to it."""
    measure = get_measure_mm(lesson.page)
    return measure - _PLAN_MM - _PLAN_GAP_MM if has_plan(fill) else measure


def has_plan(fill: LessonFill) -> bool:
    """Return True if a fill goes round the kit, so that a plan of it helps."""
    return len({hit.surface.name for hit in fill.step.fill.hits}) > 1


def draw_plan(lesson: Lesson, fill: LessonFill) -> KitPlan:
    """Draw the kit with the paths of the hands in a fill, for the player's leading hand."""
    played = fill.step.fill.mirror() if lesson.hand is Limb.LEFT else fill.step.fill
    return draw_kit_plan(played.hits, lesson.kit)


def get_typst_paper(page: str) -> str:
    """Return the typesetter's name of a page size."""
    return _TYPST_PAPERS[page]


def typeset_handout(lesson: Lesson, fills: Sequence[LessonFill], engravings: Mapping[int, Engraving]) -> bytes:
    """Return the handout as PDF.

    Args:
        lesson: what it teaches.
        fills: in teaching order.
        engravings: the music of each fill, by its number.
    """
    keys = draw_keys(fills, page=lesson.page)
    data = {
        **describe_lesson(lesson, fills),
        "page": get_typst_paper(lesson.page),
        "running": format_footer(lesson),
        **describe_last_part(keys, lesson.level),
    }
    return typeset(
        _load_template("handout.typ"),
        data,
        collect_drawings(lesson, fills, engravings) | keys | load_shared_template(),
    )


def describe_lesson(lesson: Lesson, fills: Sequence[LessonFill], prefix: str = "") -> dict[str, Any]:
    """Return the words of a lesson for the templates.

    Args:
        lesson: what it teaches.
        fills: in teaching order.
        prefix: of the names of its drawings, where several lessons stand in one document.
    """
    return {
        "title": lesson.title,
        "name": f"{lesson.number}. {lesson.title}",
        "teacher": lesson.teacher,
        "series": format_series_line(lesson),
        "purpose": lesson.goal,
        "order": _describe_order(lesson, fills),
        "notes": lesson.notes,
        "figures": _describe_figures(lesson, fills, prefix),
    }


def collect_drawings(
    lesson: Lesson, fills: Sequence[LessonFill], engravings: Mapping[int, Engraving], prefix: str = ""
) -> dict[str, str]:
    """Return the drawings of a lesson by file name: its fills and their plans."""
    drawings = {_name_drawing(fill, prefix): engravings[fill.number].svg for fill in fills}
    return drawings | {
        _name_plan(fill, prefix): draw_plan(lesson, fill).svg for fill in fills if has_plan(fill)
    }


def describe_last_part(keys: Mapping[str, str], level: str) -> dict[str, Any]:
    """Return the end of a handout or a book for the templates: key, advice, cautions."""
    texts = load_advice()
    return {
        "plan-width": _PLAN_MM,
        "plan-gap": _PLAN_GAP_MM,
        "key": tuple(keys),
        "signs": _explain_signs(),
        "practice": texts["practice"][level],
        "cautions": tuple(texts["cautions"].values()),
    }


def load_shared_template() -> dict[str, str]:
    """Load the template that the others import."""
    return {"parts.typ": _load_template("parts.typ")}


def _load_template(name: str) -> str:
    return files(__package__).joinpath(name).read_text("utf-8")


@cache
def load_advice() -> dict[str, Any]:
    """Load the advice on practising: sentences for each level, and the cautions by subject."""
    return tomllib.loads(files(__package__).joinpath("advice.toml").read_text("utf-8"))


def format_series_line(lesson: Lesson) -> str:
    """Return the line above the title: series, number, teacher."""
    parts = [lesson.series, f"Lesson {lesson.number}", lesson.teacher]
    return " · ".join(part for part in parts if part)


def format_footer(lesson: Lesson) -> str:
    """Return the line at the foot of each page."""
    return " · ".join(part for part in (lesson.series, f"{lesson.number}. {lesson.title}") if part)


def _describe_order(lesson: Lesson, fills: Sequence[LessonFill]) -> tuple[str, ...]:
    bars = lesson.bars
    ladder = ", ".join(str(tempo) for tempo in lesson.tempo)
    size = f"{bars} bars: groove, then the fill" if bars > 1 else "1 bar: the fill"
    land = ". Land on beat 1 with " + " and ".join(lesson.landing) if lesson.landing else ""
    count = "1 fill" if len(fills) == 1 else f"{len(fills)} fills. Within each figure they go from easy to hard"
    return (
        f"Each number is a phrase of {size}{land}.{_describe_hand(lesson)}",
        f"{count}. Tempo ladder: {ladder} bpm. Tick a tempo after three clean times in a row.",
    )


def _describe_figures(lesson: Lesson, fills: Sequence[LessonFill], prefix: str) -> list[dict[str, Any]]:
    figures = []
    for _, group in groupby(fills, key=lambda fill: fill.part):
        of_figure = list(group)
        figure = of_figure[0].step.figure
        figures.append(
            {
                "name": capitalise(figure.name),
                "about": _describe_figure(figure, of_figure[0].groove),
                "sticking": format_sticking(figure, lesson.hand),
                "marks": sorted({name for fill in of_figure for name in _list_figure_names(fill)}),
                "fills": [_describe_fill(fill, prefix) for fill in of_figure],
            }
        )
    return figures


def _list_figure_names(fill: LessonFill) -> tuple[str, ...]:
    """List the figures that a fill is made of, for an index."""
    step = fill.step
    return (step.figure.name, *((step.mixed_with.name,) if step.mixed_with else ()))


def _describe_figure(figure: Figure, groove: str) -> str:
    group = "" if figure.group == "own" else f"{figure.group} · "
    return f"{group}groove: {groove}"


def format_sticking(figure: Figure, hand: Limb) -> str:
    """Return a figure's sticking, from both leads where it alternates, the leading hand first."""
    first, second = figure.sticking, figure.sticking_left
    if hand is Limb.LEFT:
        first, second = second, first
    return f"{first}   {second}" if figure.alternates else first


def _describe_fill(fill: LessonFill, prefix: str) -> dict[str, Any]:
    return {
        "number": fill.number,
        "caption": fill.caption,
        "drawing": _name_drawing(fill, prefix),
        "plan": _name_plan(fill, prefix) if has_plan(fill) else "",
        "rhythm": capitalise(fill.rhythm),
        "grade": describe_grade(fill),
        "ladder": [str(tempo) for tempo in fill.ladder],
    }


def _name_drawing(fill: LessonFill, prefix: str) -> str:
    return f"{prefix}fill-{fill.number}.svg"


def _name_plan(fill: LessonFill, prefix: str) -> str:
    return f"{prefix}plan-{fill.number}.svg"


def draw_keys(fills: Sequence[LessonFill], *, page: str) -> dict[str, str]:
    """Draw the notation key for everything that some fills use; by file name."""
    hits: list[Hit] = [hit for fill in fills for hit in fill.phrase.hits()]
    width = get_measure_mm(page)
    rows = [signs for signs in find_signs(hits) if signs]
    return {f"key-{i}.svg": engrave_key(signs, width_mm=width).svg for i, signs in enumerate(rows)}


def _describe_hand(lesson: Lesson) -> str:
    return "" if lesson.hand is Limb.RIGHT else " The leading hand is the left."


def _explain_signs() -> tuple[str, ...]:
    return (
        "R is the right hand, L the left, K the foot on the kick. Small letters are grace notes. "
        "> is an accent, ( ) a ghost note, z a buzz. "
        "On a plan of the kit the strokes are numbered in the order of play. "
        "The right hand's path is a solid line, the left hand's a dashed one.",
        " ".join(f"{capitalise(name)}: {get_term(name).meaning}" for name in _EXPLAINED)
        + " The glossary in Fillwright's docs explains every word (docs/glossary.md).",
    )
