"""The practice page put together: words, music, sounds, style and script in one file that needs no other."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Sequence
from functools import cache
from html import escape
from importlib.resources import files
from itertools import groupby
from string import Template

from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill, capitalised
from fillwright.pack.handout import load_advice, format_series_line
from fillwright.pack.practice.data import PageData, as_json, gather_page_data
from fillwright.sound.model.bank import SoundBank, default_bank

_MODULES = (
    "bank.mjs",
    "player.mjs",
    "cursor.mjs",
    "keep.mjs",
    "clock.mjs",
    "staircase.mjs",
    "ladder.mjs",
    "drawings.mjs",
    "page.mjs",
)
_JOINTS = re.compile(r"^(?:import [^;]*;\n|export (?=(?:async )?(?:class|function|const)))", re.MULTILINE)
_EARLY = (
    'const {classList: marks} = document.documentElement; marks.add("opening"); '
    'setTimeout(() => marks.remove("opening"), 3000)'
)
"""Nothing is shown until faces and sheet are there, lest it move; but never longer than three seconds."""

_MANY_RUNGS = 5  # more marks than a stair has room for at full width
_KEYS = (
    ("space", "play, pause"),
    ("0", "from the top"),
    ("← →", "step before, next step"),
    ("↑ ↓", "tempo one faster, one slower"),
    ("1 to 9", "a rung of the tempo ladder"),
    ("T", "tick the rung as reached"),
    ("L", "loop the phrase"),
    ("F", "leave the fill to me"),
    ("C", "click: off to loud"),
    ("I", "count-in: none, 1 bar, 2 bars"),
    ("R", "practice clock"),
    ("P", "print this fill"),
    ("A", "print all fills"),
)


def build_practice_page(lesson: Lesson, fills: Sequence[LessonFill], *, bank: SoundBank | None = None) -> str:
    """The page as HTML.

    Args:
        lesson: what it teaches.
        fills: in teaching order.
        bank: where its sounds come from; the modelled kit by default.
    """
    data = gather_page_data(lesson, fills, default_bank() if bank is None else bank)
    style = _style(data)
    script = _script()
    told = load_advice()
    return Template(_text("page.html")).substitute(
        early=_EARLY,
        early_hash=_hash(_EARLY),
        script_hash=_hash(script),
        style_hash=_hash(style),
        title=escape(lesson.title),
        series=escape(format_series_line(lesson)),
        purpose=f'<p class="purpose">{escape(lesson.purpose)}</p>' if lesson.purpose else "",
        style=style,
        outlines="".join(data.outlines.values()),
        flights=_flights(fills),
        keys="".join(f"<dt><kbd>{key}</kbd></dt><dd>{words}</dd>" for key, words in _KEYS),
        notes=_notes(lesson),
        practice=_items(told["practice"][lesson.level]),
        cautions="".join(f"<p>{escape(words)}</p>" for words in told["cautions"].values()),
        data=as_json(data.table),
        recording=base64.b64encode(data.recording).decode("ascii"),
        script=script,
    )


def _flights(fills: Sequence[LessonFill]) -> str:
    """The staircase: a flight for each figure, a stair for each fill, as high as its grade."""
    made = []
    for part, group in groupby(fills, key=lambda fill: fill.part):
        own = list(group)
        below = [fill.step.route.grade for fill in own[:1]] + [fill.step.route.grade for fill in own]
        stairs = "".join(_stair(fill, before) for fill, before in zip(own, below, strict=False))
        name = f'<p class="figure-name" id="figure-{part}">{escape(capitalised(own[0].step.figure.name))}</p>'
        made.append(f'<li class="flight"><ol aria-labelledby="figure-{part}">{stairs}</ol>{name}</li>')
    return "".join(made)


def _stair(fill: LessonFill, before: int) -> str:
    grade = fill.step.route.grade
    words = escape(f"{fill.number}. {fill.title}. Grade {grade}", quote=True)
    many = " many" if len(fill.ladder) > _MANY_RUNGS else ""
    return (
        f'<li><button type="button" class="stair g{grade} r{max(0, grade - before)}" '
        f'data-fill="{fill.number - 1}" data-words="{words}" aria-label="{words}">{fill.number}'
        f'<span class="marks{many}" aria-hidden="true">{"<i></i>" * len(fill.ladder)}</span></button></li>'
    )


def _notes(lesson: Lesson) -> str:
    if not lesson.notes:
        return ""
    return (
        f'<section aria-labelledby="notes"><h2 id="notes">For you</h2><ul>{_items(lesson.notes)}</ul></section>'
    )


def _items(lines: Sequence[str]) -> str:
    return "".join(f"<li>{escape(line)}</li>" for line in lines)


def _style(data: PageData) -> str:
    """The faces, the sizes that hold the music's place while it loads, and the style sheet."""
    room = f":root{{--wide:{data.wide:.4f};--narrow:{data.narrow:.4f}}}\n"
    return _text("fonts.css") + room + _text("page.css")


@cache
def _script() -> str:
    """The modules as one, in the order in which they use each other."""
    return "\n".join(_JOINTS.sub("", _text(name)) for name in _MODULES)


def _hash(text: str) -> str:
    """What the page's own policy lets through: this text and no other."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}'"


def _text(name: str) -> str:
    return files(__package__).joinpath(name).read_text("utf-8")
