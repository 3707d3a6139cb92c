"""Settings: criteria of a pass, minutes a day, defaults of a new lesson, and sounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Annotated, Any, Literal

from msgspec import Meta, Struct
from msgspec.structs import asdict as struct_to_dict
from starlette.responses import Response

from fillwright.craft.player.kits import find_kit, load_kits
from fillwright.craft.player.players import find_player, load_players
from fillwright.errors import FillwrightError
from fillwright.store.criteria import LABELS, LIMITS, Criteria
from fillwright.store.settings import (
    read_criteria,
    read_own_tables,
    read_settings,
    save_criteria,
    save_setting,
)
from fillwright.store.transaction import Transaction
from fillwright.studio.sounds.open_sounds import SETTING, list_sounds, open_by_name
from fillwright.studio.web.forms import FormError, convert_form, list_labels
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.web.versions import check_version, choose_version, compute_version, list_differences
from fillwright.studio.work.record import MINUTES_A_DAY
from fillwright.tables.lesson_keys import LESSON_KEYS
from fillwright.tables.values import shorten

PAGES = ("a4", "letter")
HANDS = ("right", "left")

_LEAST_MINUTES, _MOST_MINUTES = 5, 600
"""Minutes a day that can be planned. Ours."""

LESSON_DEFAULTS: Mapping[str, Any] = {
    key.name: key.default for key in LESSON_KEYS if key.name in ("level", "hand", "kit", "page")
}
"""Keys of a new lesson that the settings can change, with their values in a lesson without them."""

_DEFAULTS: Mapping[str, Any] = {
    **asdict(Criteria()),
    **LESSON_DEFAULTS,
    "minutes": MINUTES_A_DAY,
    "protected": True,
    SETTING: "",
}
"""Every setting as it is before a teacher changes it."""


def _describe_limits(name: str) -> Meta:
    low, high = LIMITS[name]
    return Meta(title=LABELS[name], ge=low, le=high)


class SettingsForm(Struct, kw_only=True):
    """The form of the settings."""

    most_missing: Annotated[int, _describe_limits("most_missing")]
    on_time_ms: Annotated[float, _describe_limits("on_time_ms")]
    on_time_share: Annotated[float, _describe_limits("on_time_share")]
    most_spread_ms: Annotated[float, _describe_limits("most_spread_ms")]
    most_rush_percent: Annotated[float, _describe_limits("most_rush_percent")]
    minutes: Annotated[int, Meta(title="Minutes a day", ge=_LEAST_MINUTES, le=_MOST_MINUTES)]
    protected: bool
    kit: Annotated[str, Meta(title="Kit")] = ""
    level: Annotated[str, Meta(title="Level")] = ""
    hand: Annotated[Literal["right", "left"], Meta(title="Leading hand")]
    page: Annotated[Literal["a4", "letter"], Meta(title="Page size")]
    sounds: Annotated[str, Meta(title="Sounds")] = ""

    @property
    def criteria(self) -> Criteria:
        """Criteria of a pass."""
        return Criteria(**{name: getattr(self, name) for name in LIMITS})

    @property
    def plain_settings(self) -> dict[str, Any]:
        """Every setting that is not a criterion, by name."""
        return {name: value for name, value in struct_to_dict(self).items() if name not in LIMITS}


def show(request: PageRequest) -> Response:
    """Show the settings."""
    with request.begin_reading() as transaction:
        criteria, settings = asdict(read_criteria(transaction)), read_settings(transaction)
    return _render(request, {**{name: f"{value:g}" for name, value in criteria.items()}, **settings})


def save(request: PageRequest) -> Response:
    """Save the settings, all or none."""
    with request.begin_reading() as transaction:
        own_kits = read_own_tables(transaction).kits
    try:
        form = convert_form(SettingsForm, request)
        find_kit(form.kit, own_kits)
        find_player(form.level)
        _check_sounds(request, form.sounds)
        with request.begin_writing() as transaction:
            _check_settings_version(request, transaction, form)
            save_criteria(transaction, form.criteria)
            for name, value in form.plain_settings.items():
                save_setting(transaction, name, value)
    except FillwrightError as error:
        return _render(request, {**request.fields, "protected": "protected" in request.fields}, error)
    return redirect("/settings", "saved")


def _read_stored(transaction: Transaction) -> dict[str, Any]:
    """Read every setting of the form as it is stored."""
    stored = {**_DEFAULTS, **asdict(read_criteria(transaction)), **read_settings(transaction)}
    return {name: stored[name] for name in SettingsForm.__struct_fields__}


def _check_settings_version(request: PageRequest, transaction: Transaction, form: SettingsForm) -> None:
    """Refuse a form that was made from older settings than the stored ones.

    Raises:
        EditConflictError: if they were saved in between.
    """
    check_version(
        request,
        transaction,
        "Your settings",
        lambda: compute_version(_read_stored(transaction)),
        lambda: list_differences(_read_stored(transaction), struct_to_dict(form), list_labels(SettingsForm)),
    )


def _render(request: PageRequest, changed: Mapping[str, Any], error: FillwrightError | None = None) -> Response:
    values = {**_DEFAULTS, **changed}
    with request.begin_reading() as transaction:
        own_kits = read_own_tables(transaction).kits
        version = compute_version(_read_stored(transaction))
    return render_page(
        request,
        "settings.html",
        error=error,
        version=choose_version(request, version, error),
        values=values,
        labels=LABELS,
        pages=PAGES,
        hands=HANDS,
        kits=[kit.name for kit in (*own_kits, *load_kits().values())],
        players=tuple(load_players()),
        sound_names=tuple(list_sounds(request.setup.sounds)),
        sounds=open_by_name(request.setup.sounds, values[SETTING]),
        folder="" if request.setup.school else str(request.setup.sounds),
    )


def _check_sounds(request: PageRequest, name: str) -> None:
    """Raise FormError for the name of sounds that can't be played."""
    if name and name not in list_sounds(request.setup.sounds):
        message = f'"{shorten(name)}" is not in the folder of sounds; choose a name of the list.'
        raise FormError.of_field(SETTING, "Sounds", message)
    problem = open_by_name(request.setup.sounds, name).problem
    if problem:
        raise FormError.of_field(SETTING, "Sounds", f"{problem} Choose other sounds. Nothing was saved.")
