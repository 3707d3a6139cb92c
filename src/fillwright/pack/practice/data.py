"""The data of the page's script, as JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill, capitalise, make_slug
from fillwright.music.phrase import Phrase
from fillwright.music.stroke import Limb
from fillwright.music.timing import GRACE_SPACINGS
from fillwright.pack.handout import draw_plan, format_sticking, has_plan
from fillwright.pack.hints import describe_hint, describe_top_tempo
from fillwright.pack.practice.music import Music, engrave_narrow, engrave_wide
from fillwright.pack.practice.sounds import PULSE_AT, PackedSounds, pack_sounds
from fillwright.pack.practice.strokes import PageScore, PageStroke, build_page_score, map_places, round_place
from fillwright.score.engraving.drawing import SANS
from fillwright.score.engraving.kit_plan import HAIRLINE, HAND_COLOURS, INK, PAPER
from fillwright.sound.model.bank import SoundBank
from fillwright.sound.playalong import strikes
from fillwright.sound.playalong.clicks import list_count_in_places
from fillwright.sound.playalong.mix import CHOKE_SECONDS, collect_choke_rules
from fillwright.sound.playalong.options import Options
from fillwright.sound.signal import SAMPLE_RATE

_INKS = {INK: "var(--ink)", HAIRLINE: "var(--edge)", PAPER: "var(--paper)"}
_HANDS = {Limb.RIGHT: "var(--right)", Limb.LEFT: "var(--left)"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PageData:
    """Everything that goes into a page besides its words.

    Attributes:
        table: for the script, ready for JSON.
        outlines: of the music signs, by code.
        recording: the sounds, an MP3 file.
        wide: the largest height over width of the wide drawings.
        narrow: of the narrow ones.
    """

    table: dict[str, Any]
    outlines: Mapping[str, str]
    recording: bytes
    wide: float
    narrow: float


def gather_page_data(lesson: Lesson, fills: Sequence[LessonFill], bank: SoundBank) -> PageData:
    """Collect what a page of these fills needs.

    Args:
        lesson: what it teaches.
        fills: in teaching order.
        bank: where the sounds come from.
    """
    scores = [build_page_score(fill.phrase, lesson.feel) for fill in fills]
    sounds = pack_sounds([stroke for played in scores for stroke in played.strokes], len(fills), bank)
    names = tuple(sounds.sounds)
    outlines: dict[str, str] = {}
    rows, ratios = [], []
    for fill, played in zip(fills, scores, strict=True):
        when = map_places(fill.phrase, lesson.feel)
        drawn = (engrave_wide(fill, lesson.feel, when), engrave_narrow(fill, lesson.feel, when))
        for music in drawn:
            outlines |= music.drawing.outlines
        ratios.append([music.drawing.height / music.drawing.width for music in drawn])
        span = fill.phrase.span
        rows.append(
            _describe_words(lesson, fill)
            | describe_phrase(fill.phrase, played, names)
            | {
                "span": [when(span.start), round_place(float(span.end))] if span else [0, 0],
                "wide": _describe_drawing(drawn[0]),
                "narrow": _describe_drawing(drawn[1]),
            }
        )
    return PageData(
        table={
            "id": make_lesson_id(lesson),
            "fills": rows,
            "rules": describe_rules(lesson.feel.flam_ms, names, bank),
            "packed": describe_sounds(sounds),
        },
        outlines=dict(sorted(outlines.items())),
        recording=sounds.recording,
        wide=max(ratio[0] for ratio in ratios),
        narrow=max(ratio[1] for ratio in ratios),
    )


def make_lesson_id(lesson: Lesson) -> str:
    """Return the key under which a browser keeps the student's progress; it never changes for a lesson."""
    series = make_slug(lesson.series) if lesson.series else "lesson"
    return f"fillwright/{series}/{lesson.number}/{make_slug(lesson.title)}"


def as_json(table: Mapping[str, Any]) -> str:
    """Write a table as JSON that is safe inside a script element."""
    return json.dumps(table, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")


def _describe_words(lesson: Lesson, fill: LessonFill) -> dict[str, Any]:
    return {
        "number": fill.number,
        "slug": fill.slug,
        "figure": capitalise(fill.step.figure.name),
        "caption": fill.caption,
        "rhythm": capitalise(fill.rhythm),
        "sticking": format_sticking(fill.step.figure, lesson.hand),
        "grade": str(fill.step.route.grade),
        "ceiling": describe_top_tempo(fill),
        "hint": capitalise(describe_hint(fill)),
        "groove": capitalise(fill.groove),
        "ladder": fill.ladder,
        "plan": _recolour(draw_plan(lesson, fill).svg) if has_plan(fill) else "",
    }


def describe_phrase(phrase: Phrase, played: PageScore, names: Sequence[str]) -> dict[str, Any]:
    """Return a phrase as the page's player reads it: places in whole notes, strokes as rows.

    Args:
        phrase: what is played.
        played: the same with swing and sounds.
        names: of the sounds, in the order of the player's table.
    """
    meter = phrase.meter
    return {
        "bar": float(meter.bar),
        "unit": float(meter.tempo_unit),
        "beats": [float(start) for start in meter.beat_starts],
        "counted": [float(at) for at in list_count_in_places(meter, Options())],
        "body": float(played.body),
        "landing": played.landing,
        "strokes": [_make_row(stroke, names) for stroke in played.strokes],
        "first": [_make_row(stroke, names) for stroke in played.list_repeat() if stroke.at == 0],
    }


def _make_row(stroke: PageStroke, names: Sequence[str]) -> list[float]:
    """Return a stroke as the player reads it, without the numbers at the end that it does not need."""
    grace = (names.index(stroke.grace[0]), stroke.grace[1]) if stroke.grace else (0, 0)
    bounce = names.index(stroke.bounce) if stroke.bounce else -1
    row = [stroke.at, stroke.length, stroke.limb, names.index(stroke.sound), stroke.velocity]
    if stroke.graces or stroke.bounce:
        row += [stroke.graces, *grace]
    if stroke.bounce:
        row.append(bounce)
    return [int(number) if number == int(number) else number for number in row]


def _describe_drawing(music: Music) -> dict[str, Any]:
    return {
        "width": music.drawing.width,
        "height": music.drawing.height,
        "body": music.drawing.body,
        "lines": [
            {"top": line.top, "bottom": line.bottom, "points": [n for point in line.points for n in point]}
            for line in music.lines
        ],
    }


def describe_rules(flam_ms: float, names: Sequence[str], bank: SoundBank) -> dict[str, Any]:
    """Return how strokes sound, as in `music.timing` and `sound.playalong`."""
    chokes = collect_choke_rules(bank)
    return {
        "names": names,
        "flamMs": flam_ms,
        "spacings": {kind.graces: spacing for kind, spacing in GRACE_SPACINGS.items()},
        "bounce": {
            "first": strikes.FIRST_GAP_SECONDS,
            "last": strikes.LAST_GAP_SECONDS,
            "shrinks": strikes.GAP_SHRINKS,
            "starts": strikes.BOUNCE_STARTS,
            "ends": strikes.BOUNCE_ENDS,
            "longest": strikes.LONGEST_BUZZ_SECONDS,
        },
        "chokes": {name: sorted(chokes[name]) for name in sorted(chokes.keys() & set(names))},
        "chokeSeconds": CHOKE_SECONDS,
    }


def describe_sounds(sounds: PackedSounds) -> dict[str, Any]:
    """Return the position of each sound in the recording."""
    return {
        "rate": SAMPLE_RATE,
        "pulse": PULSE_AT,
        "sounds": {
            name: {"power": sound.power, "layers": [[layer.velocity, layer.shots] for layer in sound.layers]}
            for name, sound in sounds.sounds.items()
        },
    }


def _recolour(svg: str) -> str:
    """Return a plan in the page's own inks, which change in the dark."""
    for colour, ink in (_INKS | {HAND_COLOURS[limb]: ink for limb, ink in _HANDS.items()}).items():
        svg = svg.replace(f'"{colour}"', f'"{ink}"')
    return svg.replace(' xmlns="http://www.w3.org/2000/svg"', "").replace(f' font-family="{SANS}"', "")
