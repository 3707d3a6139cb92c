"""The handout: what to practise and in what order, every fill engraved, the key, advice and cautions."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from itertools import groupby
from typing import Any

from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill, capitalised
from fillwright.music.figure import Figure
from fillwright.music.hit import Hit
from fillwright.music.stroke import Limb
from fillwright.score.engraving.engrave import Engraving, engrave_key
from fillwright.score.engraving.kit_plan import KitPlan, draw_kit_plan
from fillwright.score.engraving.notation_key import find_signs
from fillwright.score.engraving.paper import typeset

PAGE_WIDTHS_MM = {"a4": 210.0, "letter": 215.9}
_MARGINS_MM = 36.0
_PLAN_MM, _PLAN_GAP_MM = 42.0, 5.0
_TYPST_PAPERS = {"a4": "a4", "letter": "us-letter"}


def get_measure_mm(page: str) -> float:
    """Width of the music on a page of that name."""
    return PAGE_WIDTHS_MM[page] - _MARGINS_MM


def get_music_mm(lesson: Lesson, fill: LessonFill) -> float:
    """Width of a fill's music, with a plan of the kit beside it or not."""
    whole = get_measure_mm(lesson.page)
    return whole - _PLAN_MM - _PLAN_GAP_MM if has_plan(fill) else whole


def has_plan(fill: LessonFill) -> bool:
    """Whether a fill goes round the kit, so that a plan of it helps."""
    return len({hit.surface.name for hit in fill.step.fill.hits}) > 1


def draw_plan(lesson: Lesson, fill: LessonFill) -> KitPlan:
    """The kit with the ways of the hands in a fill, for the player's hand."""
    played = fill.step.fill.mirror() if lesson.hand is Limb.LEFT else fill.step.fill
    return draw_kit_plan(played.hits, lesson.kit)


def get_typst_paper(page: str) -> str:
    """The typesetter's name of a page size."""
    return _TYPST_PAPERS[page]


def typeset_handout(lesson: Lesson, fills: Sequence[LessonFill], engravings: Mapping[int, Engraving]) -> bytes:
    """The handout as PDF.

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
    return typeset(_template("handout.typ"), data, collect_drawings(lesson, fills, engravings) | keys | load_shared_template())


def describe_lesson(lesson: Lesson, fills: Sequence[LessonFill], prefix: str = "") -> dict[str, Any]:
    """What a lesson says on paper, for the templates.

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
        "purpose": lesson.purpose,
        "order": _order(lesson, fills),
        "notes": lesson.notes,
        "figures": _figures(lesson, fills, prefix),
    }


def collect_drawings(
    lesson: Lesson, fills: Sequence[LessonFill], engravings: Mapping[int, Engraving], prefix: str = ""
) -> dict[str, str]:
    """The drawings of a lesson by file name: its fills and their plans."""
    drawings = {_drawing(fill, prefix): engravings[fill.number].svg for fill in fills}
    return drawings | {_plan(fill, prefix): draw_plan(lesson, fill).svg for fill in fills if has_plan(fill)}


def describe_last_part(keys: Mapping[str, str], level: str) -> dict[str, Any]:
    """What stands at the end of a handout or a book: key, advice, cautions."""
    told = load_advice()
    return {
        "plan-width": _PLAN_MM,
        "plan-gap": _PLAN_GAP_MM,
        "key": tuple(keys),
        "hands": _hands(),
        "practice": told["practice"][level],
        "cautions": tuple(told["cautions"].values()),
    }


def load_shared_template() -> dict[str, str]:
    """The template that all of them import."""
    return {"parts.typ": _template("parts.typ")}


def _template(name: str) -> str:
    return files(__package__).joinpath(name).read_text("utf-8")


@cache
def load_advice() -> dict[str, Any]:
    """What is said about practising: sentences for each level of player, and the cautions by subject."""
    return tomllib.loads(files(__package__).joinpath("advice.toml").read_text("utf-8"))


def format_series_line(lesson: Lesson) -> str:
    """What stands above the title: series, number, teacher."""
    parts = [lesson.series, f"Lesson {lesson.number}", lesson.teacher]
    return " · ".join(part for part in parts if part)


def format_footer(lesson: Lesson) -> str:
    """What stands at the foot of each page."""
    return " · ".join(part for part in (lesson.series, f"{lesson.number}. {lesson.title}") if part)


def _order(lesson: Lesson, fills: Sequence[LessonFill]) -> tuple[str, ...]:
    bars = lesson.bars
    ladder = ", ".join(str(tempo) for tempo in lesson.tempo)
    size = f"{bars} bars: groove, then the fill" if bars > 1 else "1 bar: the fill"
    land = ", then land on " + " and ".join(lesson.landing) + " on beat 1" if lesson.landing else ""
    count = (
        "1 fill" if len(fills) == 1 else f"{len(fills)} fills, in order from easy to hard within each figure"
    )
    return (
        f"Each number is one phrase of {size}{land}.{_setup(lesson)}",
        f"{count}. Tempos: {ladder}; tick one when the phrase was clean three times in a row.",
    )


def _figures(lesson: Lesson, fills: Sequence[LessonFill], prefix: str) -> list[dict[str, Any]]:
    made = []
    for _, group in groupby(fills, key=lambda fill: fill.part):
        own = list(group)
        figure = own[0].step.figure
        made.append(
            {
                "name": capitalised(figure.name),
                "about": _about(figure, own[0].groove),
                "sticking": format_sticking(figure, lesson.hand),
                "marks": sorted({name for fill in own for name in _names(fill)}),
                "fills": [_entry(fill, prefix) for fill in own],
            }
        )
    return made


def _names(fill: LessonFill) -> tuple[str, ...]:
    """The figures that a fill is made of, for an index."""
    step = fill.step
    return (step.figure.name, *((step.mixed_with.name,) if step.mixed_with else ()))


def _about(figure: Figure, groove: str) -> str:
    group = "" if figure.group == "own" else f"{figure.group}; "
    return f"{group}groove: {groove}"


def format_sticking(figure: Figure, hand: Limb) -> str:
    """A figure's sticking, from both leads where it alternates, the stronger hand first."""
    first, second = figure.sticking, figure.sticking_left
    if hand is Limb.LEFT:
        first, second = second, first
    return f"{first}   {second}" if figure.alternates else first


def _entry(fill: LessonFill, prefix: str) -> dict[str, Any]:
    return {
        "number": fill.number,
        "caption": fill.caption,
        "drawing": _drawing(fill, prefix),
        "plan": _plan(fill, prefix) if has_plan(fill) else "",
        "rhythm": capitalised(fill.rhythm),
        "difficulty": fill.difficulty,
        "ladder": [str(tempo) for tempo in fill.ladder],
    }


def _drawing(fill: LessonFill, prefix: str) -> str:
    return f"{prefix}fill-{fill.number}.svg"


def _plan(fill: LessonFill, prefix: str) -> str:
    return f"{prefix}plan-{fill.number}.svg"


def draw_keys(fills: Sequence[LessonFill], *, page: str) -> dict[str, str]:
    """The drawings of the kit key for everything that some fills use, by file name."""
    hits: list[Hit] = [hit for fill in fills for hit in fill.phrase.hits()]
    width = get_measure_mm(page)
    rows = [signs for signs in find_signs(hits) if signs]
    return {f"key-{i}.svg": engrave_key(signs, width_mm=width).svg for i, signs in enumerate(rows)}


def _setup(lesson: Lesson) -> str:
    return "" if lesson.hand is Limb.RIGHT else " Written for a left-handed player."


def _hands() -> str:
    marks = "In a sticking, small letters are grace notes, > is an accent, ( ) a ghost note, z a buzz."
    plans = "On a plan the strokes are numbered in time; the right hand is a solid line, the left a dashed one."
    grades = "Grades go from 1, easy, to 10; times in milliseconds are those at the slowest tempo."
    return f"R right hand, L left hand, K the foot on the kick. {marks} {plans} {grades}"
