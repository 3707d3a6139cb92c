"""Sounds and player data for the scripts of the pages."""

from __future__ import annotations

from importlib.resources import files

from starlette.responses import JSONResponse, Response

from fillwright.errors import NotThereError
from fillwright.pack.practice.page import PLAYER_MODULES
from fillwright.pack.practice.strokes import map_places
from fillwright.studio.pages.pack import check_assigned
from fillwright.studio.sounds.kit_sounds import build_player_data, list_layers, load_layer
from fillwright.studio.sounds.open_sounds import open_chosen_sounds
from fillwright.studio.web.request import PageRequest
from fillwright.studio.work.cursor_marks import list_cursor_marks
from fillwright.studio.work.lessons import NARROW_MM, WIDE_MM, draw_fill, plan_lesson

_KEEP_FOREVER = {"cache-control": "private, max-age=31536000, immutable"}
"""Header of a layer, whose address changes with its sounds: a year (common practice, no source)."""


def send_kit(request: PageRequest) -> Response:
    """Send the rules of playing on the teacher's sounds, and the number of each layer of each sound."""
    return JSONResponse(list_layers(open_chosen_sounds(request)))


def send_layer(request: PageRequest) -> Response:
    """Send one loudness of one sound. Browsers keep it, because its address names the sounds.

    Raises:
        NotThereError: if the teacher has chosen other sounds since, or the kit has no such layer.
    """
    sounds = open_chosen_sounds(request)
    if request.segment("digest") != sounds.digest:
        raise NotThereError("These sounds are no longer in use.")
    content = load_layer(sounds, request.number("layer"))
    return Response(content, media_type="application/octet-stream", headers=_KEEP_FOREVER)


def send_fill(request: PageRequest) -> Response:
    """Send a fill of a lesson for the player. A student can play the fills of assigned lessons."""
    number = request.number("lesson")
    with request.begin_reading() as transaction:
        check_assigned(request, transaction, number)
        planned = plan_lesson(transaction, number)
    fill = planned.find_fill(request.segment("fill"))
    feel = planned.lesson.feel
    get_time = map_places(fill.phrase, feel)
    marks = {
        name: list_cursor_marks(draw_fill(planned, fill.name, width), fill.sheet, get_time)
        for name, width in (("wide", WIDE_MM), ("narrow", NARROW_MM))
    }
    return JSONResponse({**build_player_data(fill.phrase, feel), "tempo": fill.ladder[0], "way": marks})


def send_module(request: PageRequest) -> Response:
    """Send a module of the practice page, which plays here too.

    Raises:
        NotThereError: for any other name.
    """
    name = request.segment("name")
    if name not in PLAYER_MODULES:
        raise NotThereError("There is no such module.")
    content = (files("fillwright.pack.practice") / f"{name}.mjs").read_bytes()
    return Response(content, media_type="text/javascript", headers={"cache-control": "no-cache"})
