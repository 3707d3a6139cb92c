"""The practice page: words, music, sounds, style and script in one file that needs no other."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from html import escape
from importlib.resources import files
from itertools import groupby
from string import Template

from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill, capitalise
from fillwright.lesson.glossary import get_term
from fillwright.pack.handout import format_series_line, load_advice
from fillwright.pack.practice.data import PageData, as_json, gather_page_data
from fillwright.sound.model.bank import SoundBank, default_bank

PLAYER_MODULES = ("bank", "fill", "output", "player", "sequence", "timing")
"""Modules of the page that other pages play with too: the player and what it imports."""

_EARLY = (
    'const {classList: marks} = document.documentElement; marks.add("opening"); '
    'setTimeout(() => marks.remove("opening"), 3000)'
)
"""The page stays hidden until fonts and music are there, so that nothing moves; three seconds at most."""

_MANY_TEMPOS = 5  # more marks than a stair has room for at full width
_SHORTCUTS = (
    ("space", "play, pause"),
    ("0", "from the top"),
    ("← →", "previous fill, next fill"),
    ("↑ ↓", "1 bpm faster, 1 bpm slower"),
    ("1 to 9", "a tempo of the ladder"),
    ("T", "mark the tempo as passed"),
    ("L", "loop"),
    ("F", "leave the fill to me"),
    ("C", "click: off to loud"),
    ("I", "count-in: none, 1 bar, 2 bars"),
    ("R", "practice clock"),
    ("P", "print this fill"),
    ("A", "print all fills"),
    ("Esc", "hide an explanation"),
)


def build_practice_page(lesson: Lesson, fills: Sequence[LessonFill], *, bank: SoundBank | None = None) -> str:
    """Return the page as HTML.

    Args:
        lesson: what it teaches.
        fills: in teaching order.
        bank: where its sounds come from; the modelled kit by default.
    """
    data = gather_page_data(lesson, fills, default_bank() if bank is None else bank)
    style = _build_style(data)
    script = _load_text("bundle.mjs")
    texts = load_advice()
    return Template(_load_text("page.html")).substitute(
        early=_EARLY,
        early_hash=_hash(_EARLY),
        script_hash=_hash(script),
        style_hash=_hash(style),
        title=escape(lesson.title),
        series=escape(format_series_line(lesson)),
        goal=f'<p class="purpose">{escape(lesson.goal)}</p>' if lesson.goal else "",
        style=style,
        outlines="".join(data.outlines.values()),
        flights=_render_flights(fills),
        shortcuts="".join(f"<dt><kbd>{key}</kbd></dt><dd>{words}</dd>" for key, words in _SHORTCUTS),
        about_grade=escape(get_term("grade").meaning),
        about_ceiling=escape(get_term("top tempo").meaning),
        about_ladder=escape(get_term("ladder").meaning),
        notes=_render_notes(lesson),
        practice=_render_items(texts["practice"][lesson.level]),
        cautions="".join(f"<p>{escape(words)}</p>" for words in texts["cautions"].values()),
        data=as_json(data.table),
        recording=base64.b64encode(data.recording).decode("ascii"),
        script=script,
    )


def _render_flights(fills: Sequence[LessonFill]) -> str:
    """Return the staircase: a flight for each figure, a stair for each fill, as high as its grade."""
    flights = []
    for part, group in groupby(fills, key=lambda fill: fill.part):
        of_figure = list(group)
        below = [fill.step.route.grade for fill in of_figure[:1]] + [
            fill.step.route.grade for fill in of_figure
        ]
        stairs = "".join(_render_stair(fill, before) for fill, before in zip(of_figure, below, strict=False))
        name = (
            f'<p class="figure-name" id="figure-{part}">{escape(capitalise(of_figure[0].step.figure.name))}</p>'
        )
        flights.append(f'<li class="flight"><ol aria-labelledby="figure-{part}">{stairs}</ol>{name}</li>')
    return "".join(flights)


def _render_stair(fill: LessonFill, before: int) -> str:
    grade = fill.step.route.grade
    words = escape(f"{fill.number}. {fill.title}. Grade {grade}", quote=True)
    many = " many" if len(fill.ladder) > _MANY_TEMPOS else ""
    return (
        f'<li><button type="button" class="stair g{grade} r{max(0, grade - before)}" '
        f'data-fill="{fill.number - 1}" data-words="{words}" aria-label="{words}">{fill.number}'
        f'<span class="marks{many}" aria-hidden="true">{"<i></i>" * len(fill.ladder)}</span></button></li>'
    )


def _render_notes(lesson: Lesson) -> str:
    if not lesson.notes:
        return ""
    items = _render_items(lesson.notes)
    return f'<section aria-labelledby="notes"><h2 id="notes">Notes for you</h2><ul>{items}</ul></section>'


def _render_items(lines: Sequence[str]) -> str:
    return "".join(f"<li>{escape(line)}</li>" for line in lines)


def _build_style(data: PageData) -> str:
    """Return the fonts, the sizes that keep the music's space while it loads, and the style sheet."""
    sizes = f":root{{--wide:{data.wide:.4f};--narrow:{data.narrow:.4f}}}\n"
    return _load_text("fonts.css") + sizes + _load_text("page.css")


def _hash(text: str) -> str:
    """Return the entry of the page's policy that allows this text and no other."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}'"


def _load_text(name: str) -> str:
    return files(__package__).joinpath(name).read_text("utf-8")
