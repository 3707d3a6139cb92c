"""Sounds and players for the pages' scripts."""

from __future__ import annotations

from importlib.resources import files

from starlette.responses import JSONResponse, Response

from fillwright.errors import NotThereError
from fillwright.lesson.practice.strokes import places
from fillwright.store.students import assignments
from fillwright.studio.ask import Ask
from fillwright.studio.marks import way
from fillwright.studio.soundkit import playable, sound_kit
from fillwright.studio.work import NARROW_MM, WIDE_MM, drawn, work_out

_MODULES = ("bank", "player")
_KEPT = {"cache-control": "private, max-age=3600"}


def kit(ask: Ask) -> Response:
    """Where each sound lies in the recording, and how strokes sound."""
    del ask
    return JSONResponse(sound_kit().table, headers=_KEPT)


def recording(ask: Ask) -> Response:
    """Every sound, one behind the other."""
    del ask
    return Response(sound_kit().recording, media_type="audio/mpeg", headers=_KEPT)


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
    content = (files("fillwright.lesson.practice") / f"{name}.mjs").read_bytes()
    return Response(content, media_type="text/javascript", headers={"cache-control": "no-cache"})
