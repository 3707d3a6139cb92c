"""Settings: what is asked of a take, a day's practice, what a new lesson begins with, and the sounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from starlette.responses import Response

from fillwright.craft.player.kits import find_kit, kits
from fillwright.craft.player.players import find_player, players
from fillwright.errors import FillwrightError, SoundsError, StoreError
from fillwright.store.criteria import Criteria
from fillwright.store.settings import criteria, keep_criteria, keep_setting, own_tables, settings
from fillwright.studio.sounds.open_sounds import SETTING, listed, opened
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.work.record import MINUTES_A_DAY
from fillwright.tables.keys import LESSON_KEYS, shown

PAGES = ("a4", "letter")
HANDS = ("right", "left")
_MOST_MINUTES = 600
_WORDS = {
    "most_missing": "Strokes of the fill that may be missing",
    "on_time_ms": "A stroke is on time within",
    "on_time_share": "Share of the fill's strokes on time",
    "most_spread_ms": "Largest scatter of the fill",
    "most_rush_percent": "Largest rush or drag of the fill",
    "minutes": "Minutes a day",
}
"""The numbers as the page calls them."""
BEGINS: Mapping[str, Any] = {
    key.name: key.default for key in LESSON_KEYS if key.name in ("level", "hand", "kit", "page")
}
"""What a new lesson begins with: its keys, and what a lesson without them has."""

_USUAL: Mapping[str, Any] = {
    **asdict(Criteria()),
    **BEGINS,
    "minutes": MINUTES_A_DAY,
    "protected": True,
    SETTING: "",
}


def show(ask: Ask) -> Response:
    """The form."""
    with ask.reading() as desk:
        asked, kept = asdict(criteria(desk)), settings(desk)
    return _show(ask, {**{name: f"{value:g}" for name, value in asked.items()}, **kept})


def change(ask: Ask) -> Response:
    """Keep them, all or none."""
    with ask.reading() as desk:
        own = own_tables(desk).kits
    try:
        asked = Criteria(
            most_missing=_whole(ask, "most_missing"),
            on_time_ms=_number(ask, "on_time_ms"),
            on_time_share=_number(ask, "on_time_share"),
            most_spread_ms=_number(ask, "most_spread_ms"),
            most_rush_percent=_number(ask, "most_rush_percent"),
        )
        others = {
            "minutes": _minutes(ask),
            "protected": "protected" in ask.fields,
            "kit": find_kit(ask.text("kit"), own).name,
            "level": find_player(ask.text("level")).name,
            "hand": _one_of(ask, "hand", HANDS),
            "page": _one_of(ask, "page", PAGES),
            SETTING: _sounds(ask),
        }
        with ask.writing() as desk:
            keep_criteria(desk, asked)
            for name, value in others.items():
                keep_setting(desk, name, value)
    except FillwrightError as error:
        return _show(ask, {**ask.fields, "protected": "protected" in ask.fields}, wrong=str(error), status=422)
    return back_to("/settings", "saved")


def _show(ask: Ask, values: Mapping[str, Any], *, wrong: str = "", status: int = 200) -> Response:
    kept = {**_USUAL, **values}
    with ask.reading() as desk:
        own = own_tables(desk).kits
    sounds = opened(ask.setup.sounds, kept[SETTING])
    return page(
        ask,
        "settings.html",
        status=status,
        wrong=wrong,
        kept=kept,
        pages=PAGES,
        hands=HANDS,
        kits=[one.name for one in (*own, *kits().values())],
        players=tuple(players()),
        listed=tuple(listed(ask.setup.sounds)),
        sounds=sounds,
        folder="" if ask.setup.school else str(ask.setup.sounds),
    )


def _sounds(ask: Ask) -> str:
    """The name of sounds that can be played.

    Raises:
        SoundsError: for any other.
    """
    name = ask.text(SETTING)
    if name and name not in listed(ask.setup.sounds):
        raise SoundsError(f'There is no "{shown(name)}" in the folder of sounds; choose a name of the list.')
    found = opened(ask.setup.sounds, name)
    if found.wrong:
        raise SoundsError(f"{found.wrong} Choose other sounds; nothing was changed.")
    return found.name


def _minutes(ask: Ask) -> int:
    minutes = _whole(ask, "minutes")
    if not 5 <= minutes <= _MOST_MINUTES:
        raise StoreError(f"{minutes} minutes a day can't be planned; write 5 to {_MOST_MINUTES}.")
    return minutes


def _one_of(ask: Ask, name: str, allowed: tuple[str, ...]) -> str:
    if ask.text(name) not in allowed:
        raise StoreError(f"A {name} is {' or '.join(allowed)}.")
    return ask.text(name)


def _whole(ask: Ask, name: str) -> int:
    value = _number(ask, name)
    if value != int(value):
        raise StoreError(f"{_WORDS[name]}: {value:g} is no whole number.")
    return int(value)


def _number(ask: Ask, name: str) -> float:
    text = ask.text(name).strip().replace(",", ".")
    try:
        value = float(text)
    except ValueError as error:
        found = f'"{text[:20]}" is no number' if text else "nothing is written"
        raise StoreError(f"{_WORDS[name]}: {found}; write one.") from error
    if not abs(value) < 1e6:
        raise StoreError(f"{_WORDS[name]}: {text[:20]} is no number that could be meant.")
    return value
