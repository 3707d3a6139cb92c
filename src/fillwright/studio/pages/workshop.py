"""The workshop: one fill made by hand, from figures and a span to the last stroke."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

from starlette.responses import JSONResponse, Response

from fillwright.craft.player.kits import USUAL, find_kit, kits
from fillwright.craft.player.players import players
from fillwright.craft.written_fills import OwnFill, where
from fillwright.errors import FillwrightError, FitError
from fillwright.lesson.edit import left_out
from fillwright.lesson.written_fills import fill_text, fill_values, read_fill
from fillwright.music.figure import Figure
from fillwright.music.grooves import find_groove, grooves
from fillwright.music.rudiments import rudiments
from fillwright.music.timing import STRAIGHT
from fillwright.score.engraving.engrave import engrave
from fillwright.score.engraving.kit_plan import kit_plan
from fillwright.store.lessons import all_series, lessons_of, newest, save_text
from fillwright.store.settings import own_tables, settings
from fillwright.studio.pages.figures import own_figures
from fillwright.studio.sounds.kit_sounds import playable
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.work.cursor_marks import at_places, way
from fillwright.studio.work.lessons import NARROW_MM, WIDE_MM, parsed, placed, work_out
from fillwright.tables.kits_and_grooves import OwnTables
from fillwright.workbench.edit_fill import Bench, Made, Walk, rerouted, tried, walk

_MOST_FIGURES = 4
_WIDTHS = {"wide": WIDE_MM, "narrow": NARROW_MM}
_USUAL = {
    "figures": "single paradiddle",
    "beats": "4",
    "groove": "straight eighths",
    "kit": USUAL,
    "player": "steady",
    "tempo": "80",
    "chain": "0",
    "route": "0",
    "replaces": "",
    "lesson": "",
    "name": "",
    "sticking": "",
}


def show(ask: Ask) -> Response:
    """The page: the fill that the address describes, or the first one of the figures it names."""
    given = {**_USUAL, **_chosen(ask), **dict(ask.request.query_params)}
    if "figure" in given:
        given["figures"] = given["figure"]
    wrong, found, made, own = "", None, None, _own_tables(ask, given)
    try:
        bench = _bench(given, own)
        if given.get("sticking") and given.get("laid"):
            found = rerouted(bench, _fill(given), _number(given["route"], "route"))
            made = found.made
        elif given.get("sticking"):
            made = tried(bench, _fill(given))
        else:
            found = _walk(replace(bench, figures=_own_figures(ask)), given)
            made = found.made
    except FillwrightError as error:
        wrong = str(error)
    return _page(ask, given, found, made, wrong)


def try_out(ask: Ask) -> Response:
    """A fill after a change, for the page to show at once: notation, plan, and what a hand can't reach.

    The page asks for the one drawing that it shows.
    """
    given = {**_USUAL, **_chosen(ask), **ask.fields}
    widths = {name: width for name, width in _WIDTHS.items() if ask.text("drawing") in ("", name)}
    try:
        made = tried(_bench(given, _own_tables(ask, given)), _fill(given))
    except FillwrightError as error:
        return JSONResponse({"wrong": str(error)}, status_code=422)
    return JSONResponse(_told(made, widths))


def keep(ask: Ask) -> Response:
    """Keep the fill in a lesson, written out at the end of its text."""
    given = {**_USUAL, **_chosen(ask), **ask.fields}
    try:
        own = _fill(given)
        number = _number(ask.text("lesson"), "lesson")
        with ask.writing() as desk:
            found = work_out(desk, number)
            replaced = found.fill(ask.text("replaces")) if ask.text("replaces") else None
            figure = replaced.step.figure.name if replaced else found.lesson.figures[-1].figure.name
            text = left_out(found.text, replaced) if replaced else found.text
            text = f"{text.rstrip()}\n\n{fill_text(own, figure)}"
            text, name = placed(desk, number, text, replaced)
            save_text(desk, number, text)
    except FillwrightError as error:
        return _page(ask, given, None, _made_or_none(ask, given), str(error), status=422)
    return back_to(f"/lessons/{number}?fill={name}", "saved")


def _chosen(ask: Ask) -> dict[str, str]:
    """Kit and player as the teacher's settings have them."""
    with ask.reading() as desk:
        kept = settings(desk)
    return {name: str(kept[of]) for name, of in (("kit", "kit"), ("player", "level")) if of in kept}


def _page(
    ask: Ask, given: Mapping[str, str], found: Walk | None, made: Made | None, wrong: str, *, status: int = 200
) -> Response:
    with ask.reading() as desk:
        lessons = [(series, lessons_of(desk, series.id)) for series in all_series(desk)]
    own = _own_tables(ask, given)
    return page(
        ask,
        "workshop.html",
        status=status,
        given=given,
        walk=found,
        told=_told(made, _WIDTHS) if made else None,
        texts=fill_values(made.own) if made else {},
        wrong=wrong,
        lessons=lessons,
        figures=[one.name for one in (*_own_figures(ask), *rudiments())],
        grooves=[one.name for one in (*own.grooves, *grooves())],
        kits=[one.name for one in (*own.kits, *kits().values())],
        players=tuple(players()),
    )


def _told(made: Made, widths: Mapping[str, int]) -> dict[str, Any]:
    """Everything that changes on the page when a stroke does, drawn at some widths."""
    drawings = {name: engrave(made.sheet, width_mm=float(width)) for name, width in widths.items()}
    start = made.route.span.start
    places = [start + at for at in _places(made)]
    return {
        **{name: drawn.svg for name, drawn in drawings.items()},
        "marks": {name: at_places(drawn, made.sheet, places) for name, drawn in drawings.items()},
        "play": {
            **playable(made.phrase, STRAIGHT),
            "tempo": int(made.route.tempo),
            "way": {name: way(drawn, made.sheet, float) for name, drawn in drawings.items()},
        },
        "plan": kit_plan(made.route.fill.hits, made.kit).svg,
        "grade": made.route.grade,
        "ceiling": made.ceiling,
        "reason": made.route.reason,
        "tight": [{"stroke": one.stroke, "words": one.words} for one in made.tight],
        "surfaces": [name for name in _ORDER if made.kit.has(name) or name == "kick"],
        **fill_values(made.own),
    }


_ORDER = (
    *("china", "second crash", "crash", "splash", "ride bell", "ride bow", "open hi-hat", "hi-hat"),
    *("high tom", "mid tom", "snare", "rim", "floor tom", "second floor tom", "kick"),
)
"""From the top of the staff down, as the arrow keys go."""


def _places(made: Made) -> list[Fraction]:
    """Where each stroke of the fill as written lies, from the start of its span."""
    found, at = [], Fraction(0)
    for slot, length in zip(made.own.slots, made.own.rhythm.lengths, strict=True):
        if slot:
            found.append(at)
        at += length
    return found


def _own_tables(ask: Ask, given: Mapping[str, str]) -> OwnTables:
    """Grooves and kits of the teacher's own, those of the lesson at hand before them."""
    with ask.reading() as desk:
        own = own_tables(desk)
        if not given["lesson"]:
            return own
        try:
            return parsed(newest(desk, _number(given["lesson"], "lesson")).text).own.beside(own)
        except FillwrightError:
            return own  # no lesson to be kept in: that is told where the fill is to be kept


def _own_figures(ask: Ask) -> tuple[Figure, ...]:
    with ask.reading() as desk:
        return own_figures(desk)


def _bench(given: Mapping[str, str], own: OwnTables) -> Bench:
    return Bench(
        groove=find_groove(given["groove"], own.grooves),
        kit=find_kit(given["kit"], own.kits),
        player=given["player"],
        tempo=_number(given["tempo"], "tempo"),
    )


def _walk(bench: Bench, given: Mapping[str, str]) -> Walk:
    names = tuple(name.strip() for name in given["figures"].split(",") if name.strip())
    if not 0 < len(names) <= _MOST_FIGURES:
        raise FitError(f"{len(names)} figures can't be joined here; name 1 to {_MOST_FIGURES}, with commas.")
    return walk(
        bench,
        names,
        _beats(given["beats"]),
        chain=_number(given["chain"], "chain"),
        route=_number(given["route"], "route"),
    )


def _fill(given: Mapping[str, str]) -> OwnFill:
    own = read_fill(
        given.get("name") or "A fill of one's own",
        beats=_beats(given["beats"]),
        sticking=given.get("sticking", ""),
        values=given.get("rhythm", ""),
        on=given.get("on", ""),
    )
    for text in own.on:
        where(text)
    return own


def _made_or_none(ask: Ask, given: Mapping[str, str]) -> Made | None:
    try:
        return tried(_bench(given, _own_tables(ask, given)), _fill(given))
    except FillwrightError:
        return None


def _beats(text: str) -> Fraction:
    try:
        beats = Fraction(text.strip()) if len(text) < 10 else Fraction(0)
    except (ValueError, ZeroDivisionError):
        beats = Fraction(0)
    if not 0 < beats <= 64 or (beats * 2).denominator != 1:
        raise FitError(f'"{text[:20]}" beats can\'t be filled; write a number such as 2, 2.5 or 4.')
    return beats


def _number(text: str, what: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 7):
        raise FitError(f'"{text[:20]}" is no {what}; write a whole number.')
    return int(text)
