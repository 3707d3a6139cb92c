"""Keys of a lesson file: one table of facts that reading, checking and the documentation share."""

from __future__ import annotations

from fillwright.craft.brief import TEACHING_ORDER
from fillwright.craft.player.kits import USUAL
from fillwright.sound.playalong.options import MOST_COUNT_IN_BARS
from fillwright.tables.lesson_values import (
    MAX_STROKES,
    read_click,
    read_cue,
    read_figure,
    read_fill_name,
    read_groove,
    read_half_beats,
    read_hand,
    read_kit,
    read_page,
    read_step,
    read_sticking,
    read_surface,
    read_surfaces,
    read_swing,
    read_tempo,
)
from fillwright.tables.values import (
    Key,
    TableKind,
    accept_choice,
    accept_number,
    accept_text,
    accept_whole,
    accept_yes_no,
)

MAX_FIGURES = 40  # in one lesson; ours
MAX_NAMED = 400  # fills that may be removed or put in order; ours

_STEPS = 'a list of steps, such as ["last beat", "round the kit"]'

_FILL_NAMES = (
    f"a list of at most {MAX_NAMED} fills by the names of their folders without the number, such as "
    '["flam-tap-last-beat"]'
)

LESSON_KEYS: tuple[Key, ...] = (
    Key(name="number", allowed="a whole number from 1 to 9999", read=accept_whole(1, 9999), required=True),
    Key(name="title", allowed="a text of 1 to 80 characters", read=accept_text(80), required=True),
    Key(name="series", allowed="a text of 1 to 80 characters", read=accept_text(80)),
    Key(name="teacher", allowed="a text of 1 to 80 characters", read=accept_text(80)),
    Key(
        name="goal",
        allowed="one sentence of at most 200 characters",
        read=accept_text(200),
        old_names=("purpose",),
    ),
    Key(
        name="groove",
        allowed='the name of a groove, such as "shuffle"',
        read=read_groove,
        default="straight eighths",
    ),
    Key(
        name="tempo",
        allowed='a ladder such as "60..100 step 10", one whole number, or a list of rising whole numbers',
        read=read_tempo,
        default="60..90 step 10",
    ),
    Key(name="bars", allowed="a whole number from 1 to 16", read=accept_whole(1, 16), default=4),
    Key(
        name="steps",
        allowed=_STEPS,
        read=read_step,
        default=[kind.value for kind in TEACHING_ORDER],
        most=len(TEACHING_ORDER),
    ),
    Key(name="per_step", allowed="a whole number from 1 to 6", read=accept_whole(1, 6), default=1),
    Key(
        name="landing",
        allowed='a list of surfaces, at most two of them for the hands, such as ["crash", "kick"]',
        read=read_surface,
        default=["crash", "kick"],
        most=4,
    ),
    Key(
        name="level",
        allowed='"first-year", "steady", "gigging" or "professional"',
        read=accept_choice("first-year", "steady", "gigging", "professional"),
        default="steady",
    ),
    Key(name="hand", allowed='"right" or "left"', read=read_hand, default="right"),
    Key(name="kit", allowed='the name of a kit, such as "four-piece"', read=read_kit, default=USUAL),
    Key(name="page", allowed='"a4" or "letter"', read=read_page, default="a4"),
    Key(
        name="audio",
        allowed='"mp3", "flac", "ogg" or "wav"',
        read=accept_choice("mp3", "flac", "ogg", "wav"),
        default="mp3",
    ),
    Key(name="click", allowed='true, false, "eighths" or "backbeats"', read=read_click, default=True),
    Key(
        name="count_in",
        allowed="a whole number of bars from 0 to 2",
        read=accept_whole(0, MOST_COUNT_IN_BARS),
        default=1,
    ),
    Key(name="swing", allowed="a number from 0.5 to 0.75", read=read_swing, default=0.5),
    Key(name="flam_ms", allowed="a number from 5 to 80", read=accept_number(5, 80), default=25),
    Key(name="counting", allowed="true or false", read=accept_yes_no, default=True),
    Key(
        name="rolls", allowed='"written" or "short"', read=accept_choice("written", "short"), default="written"
    ),
    Key(
        name="notes",
        allowed="a list of at most 12 notes, each of at most 300 characters",
        read=accept_text(300),
        default=[],
        most=12,
    ),
    Key(
        name="earlier",
        allowed='a list of at most 40 rudiments, such as ["five stroke roll"]',
        read=read_figure,
        default=[],
        most=40,
    ),
    Key(name="leave_out", allowed=_FILL_NAMES, read=read_fill_name, default=[], most=MAX_NAMED),
    Key(name="order", allowed=_FILL_NAMES, read=read_fill_name, default=[], most=MAX_NAMED),
)
"""Keys above the first [[figure]]."""

FIGURE_KEYS: tuple[Key, ...] = (
    Key(name="name", allowed="a text of 1 to 80 characters", read=accept_text(80), required=True),
    Key(
        name="sticking",
        allowed=f'a sticking of 1 to {MAX_STROKES} strokes, such as "R L R R"',
        read=read_sticking,
    ),
    Key(name="rhythm", allowed='note values, such as "16" or "16t 16t 16t 8"', read=accept_text(400)),
    Key(name="alternates", allowed="true or false", read=accept_yes_no),
    Key(name="groove", allowed='the name of a groove, such as "shuffle"', read=read_groove),
    Key(name="lead", allowed='"right" or "left"', read=read_hand),
    Key(name="steps", allowed=_STEPS, read=read_step, most=len(TEACHING_ORDER)),
    Key(
        name="beats",
        allowed="a number of beats from 0.5 to 80 in half beats, or a list of at most 6",
        read=read_half_beats,
        default=[],
        most=6,
        alone=True,
    ),
    Key(name="cue", allowed="one word of at most 16 letters for every stroke, or -", read=read_cue),
)
"""Keys below each [[figure]]."""

FILL_KEYS: tuple[Key, ...] = (
    Key(name="name", allowed="a text of 1 to 80 characters", read=accept_text(80), required=True),
    Key(name="figure", allowed="the name of a figure of this lesson", read=accept_text(80)),
    Key(
        name="beats",
        allowed="a number of beats from 0.5 to 80 in half beats",
        read=read_half_beats,
        required=True,
    ),
    Key(
        name="sticking", allowed=f"a sticking of 1 to {MAX_STROKES} strokes", read=read_sticking, required=True
    ),
    Key(name="rhythm", allowed='note values, such as "16"', read=accept_text(400), required=True),
    Key(
        name="on",
        allowed='surfaces with commas between them, one for each stroke, such as "snare, snare, high tom"',
        read=read_surfaces,
        required=True,
    ),
)
"""Keys below each [[fill]]: one of the teacher's own."""

LESSON_FILE = TableKind(
    title="a lesson file",
    rows=frozenset({"figure", "fill"}),
    named={"grooves": "groove", "kits": "kit"},
    elsewhere={
        "above the first [[figure]]": LESSON_KEYS,
        "below a [[figure]]": FIGURE_KEYS,
        "below a [[fill]]": FILL_KEYS,
    },
)
