"""Sounds and players for the pages' scripts."""

from __future__ import annotations

from importlib.resources import files

from starlette.responses import JSONResponse, Response

from fillwright.errors import NotThereError
from fillwright.pack.practice.strokes import places
from fillwright.store.students import assignments
from fillwright.studio.sounds.kit_sounds import kit_table, layer, playable
from fillwright.studio.sounds.open_sounds import sounds_of
from fillwright.studio.web.request import Ask
from fillwright.studio.work.cursor_marks import way
from fillwright.studio.work.lessons import NARROW_MM, WIDE_MM, drawn, work_out

_MODULES = ("bank", "player")
_KEPT = {"cache-control": "private, max-age=31536000, immutable"}


def kit(ask: Ask) -> Response:
    """How strokes sound on the teacher's sounds, and where each layer of each sound is fetched."""
    return JSONResponse(kit_table(sounds_of(ask)))


def kit_layer(ask: Ask) -> Response:
    """One loudness of one sound, which browsers keep, since its address names the sounds.

    Raises:
        NotThereError: where the teacher has other sounds by now, or the kit has no such layer.
    """
    found = sounds_of(ask)
    if ask.request.path_params["digest"] != found.digest:
        raise NotThereError("These sounds are no longer in use.")
    return Response(layer(found, ask.number("layer")), media_type="application/octet-stream", headers=_KEPT)


def of_fill(ask: Ask) -> Response:
    """A fill of a lesson as the player plays it; a student may hear what is assigned to them."""
    number = ask.number("lesson")
    with ask.reading() as desk:
        student = ask.visitor.student
        if student is not None and number not in {one.lesson for one in assignments(desk, student)}:
            raise NotThereError("There is no such lesson.")
        found = work_out(desk, number)
    fill = found.fill(str(ask.request.path_params["fill"]))
    when = places(fill.phrase, found.lesson.feel)
    ways = {
        name: way(drawn(found, fill.name, width), fill.sheet, when)
        for name, width in (("wide", WIDE_MM), ("narrow", NARROW_MM))
    }
    return JSONResponse({**playable(fill.phrase, found.lesson.feel), "tempo": fill.ladder[0], "way": ways})


def module(ask: Ask) -> Response:
    """A module of the practice page, which plays here too.

    Raises:
        NotThereError: for another name.
    """
    name = str(ask.request.path_params["name"])
    if name not in _MODULES:
        raise NotThereError("There is no such module.")
    content = (files("fillwright.pack.practice") / f"{name}.mjs").read_bytes()
    return Response(content, media_type="text/javascript", headers={"cache-control": "no-cache"})
