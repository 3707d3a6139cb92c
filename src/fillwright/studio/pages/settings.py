"""Settings: what is asked of a take, how long a day's practice is, the page size."""

from __future__ import annotations

from dataclasses import asdict

from starlette.responses import Response

from fillwright.errors import FillwrightError, StoreError
from fillwright.store.criteria import Criteria
from fillwright.store.settings import criteria, keep_criteria, keep_setting, settings
from fillwright.studio.ask import Ask
from fillwright.studio.record import MINUTES_A_DAY
from fillwright.studio.render import back_to, page

PAGES = ("a4", "letter")
_MOST_MINUTES = 600


def show(ask: Ask) -> Response:
    """The form."""
    with ask.reading() as desk:
        asked, kept = asdict(criteria(desk)), settings(desk)
    return _show(ask, {**asked, **kept})


def change(ask: Ask) -> Response:
    """Keep them, all or none."""
    try:
        asked = Criteria(
            most_missing=int(_number(ask, "most_missing")),
            on_time_ms=_number(ask, "on_time_ms"),
            on_time_share=_number(ask, "on_time_share"),
            most_spread_ms=_number(ask, "most_spread_ms"),
            most_rush_percent=_number(ask, "most_rush_percent"),
        )
        minutes = _number(ask, "minutes")
        if not 5 <= minutes <= _MOST_MINUTES:
            raise StoreError(f"{minutes:g} minutes a day can't be planned; write 5 to {_MOST_MINUTES}.")
        if ask.text("page") not in PAGES:
            raise StoreError(f"A page is {' or '.join(PAGES)}.")
        with ask.writing() as desk:
            keep_criteria(desk, asked)
            keep_setting(desk, "minutes", int(minutes))
            keep_setting(desk, "page", ask.text("page"))
            keep_setting(desk, "protected", "protected" in ask.fields)
    except FillwrightError as error:
        return _show(ask, {**ask.fields, "protected": "protected" in ask.fields}, wrong=str(error), status=422)
    return back_to("/settings", "saved")


def _show(ask: Ask, values: dict[str, object], *, wrong: str = "", status: int = 200) -> Response:
    usual = {**asdict(Criteria()), "minutes": MINUTES_A_DAY, "page": "a4", "protected": True}
    return page(ask, "settings.html", status=status, wrong=wrong, pages=PAGES, kept={**usual, **values})


def _number(ask: Ask, name: str) -> float:
    text = ask.text(name).replace(",", ".")
    try:
        value = float(text)
    except ValueError as error:
        words = name.replace("_", " ")
        raise StoreError(f'{words.capitalize()} is "{text[:20]}"; write a number.') from error
    if not abs(value) < 1e6:
        raise StoreError(f"{name.replace('_', ' ').capitalize()} is no number that could be meant.")
    return value
