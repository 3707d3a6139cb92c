"""A lesson's pack: building it, watching it, taking it away."""

from __future__ import annotations

from pathlib import Path

from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse

from fillwright.errors import NotThereError
from fillwright.pack.build import is_current
from fillwright.store.desk import Desk
from fillwright.store.lessons import Saved, one_lesson, one_series
from fillwright.store.students import assignments
from fillwright.studio.sounds.open_sounds import sounds_of
from fillwright.studio.web.render import back_to, page
from fillwright.studio.web.request import Ask
from fillwright.studio.work.builds import sounds_of_pack, standing, zipped
from fillwright.studio.work.lessons import work_out

_PRACTICE = "practice.html"
_PRACTICE_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'unsafe-inline'",
        "style-src 'unsafe-inline'",
        "img-src data: blob:",
        "media-src data: blob:",
        "font-src data:",
        "connect-src data: blob:",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'self'",
        "sandbox allow-scripts allow-same-origin allow-modals",
    )
)
"""The page is our own and carries everything in itself; it may load nothing else."""


def folder_of(ask: Ask, lesson: Saved) -> Path:
    """Where the packs of a lesson stand; the path is made of numbers of ours, never of what a visitor sends."""
    return ask.setup.packs / f"{ask.visitor.teacher}" / f"lesson-{lesson.id}"


def show(ask: Ask) -> Response:
    """What is in the pack, and whether it is up to date."""
    number = ask.number("lesson")
    with ask.reading() as desk:
        saved = one_lesson(desk, number)
        series = one_series(desk, saved.series)
        found = work_out(desk, number)
    folder = folder_of(ask, saved)
    pack = standing(folder)
    chosen = sounds_of(ask)
    return page(
        ask,
        "pack.html",
        saved=saved,
        series=series,
        built=pack is not None,
        current=pack is not None
        and is_current(pack, found.lesson, found.fills, found.text, bank=chosen.recordings),
        sounds=sounds_of_pack(pack) if pack else "",
        chosen=chosen.name,
        files=_files(pack) if pack else [],
        progress=ask.setup.builds.progress(folder),
    )


def build(ask: Ask) -> Response:
    """Begin to build."""
    number = ask.number("lesson")
    with ask.reading() as desk:
        saved = one_lesson(desk, number)
        found = work_out(desk, number)
    ask.setup.builds.start(found, folder_of(ask, saved), sounds_of(ask).recordings)
    return back_to(f"/lessons/{number}/pack")


def progress(ask: Ask) -> Response:
    """How far it is, for the page to show live."""
    with ask.reading() as desk:
        saved = one_lesson(desk, ask.number("lesson"))
    told = ask.setup.builds.progress(folder_of(ask, saved))
    if told is None:
        return JSONResponse({"running": False, "share": 0, "what": "", "failed": False})
    return JSONResponse(
        {"running": told.running, "share": told.share, "what": told.what, "failed": told.failed}
    )


def download(ask: Ask) -> Response:
    """The pack as a zip."""
    with ask.reading() as desk:
        saved = one_lesson(desk, ask.number("lesson"))
    name = f"lesson-{saved.number}"
    return StreamingResponse(
        zipped(_standing(ask, saved), name),
        media_type="application/zip",
        headers={"content-disposition": f'attachment; filename="{name}.zip"'},
    )


def practice(ask: Ask) -> Response:
    """The practice page of the pack, for the teacher and for students to whom the lesson is assigned."""
    number = ask.number("lesson")
    with ask.reading() as desk:
        saved = one_lesson(desk, number)
        _check_assigned(ask, desk, number)
    return _file(_standing(ask, saved) / _PRACTICE, {"content-security-policy": _PRACTICE_POLICY})


def handout(ask: Ask) -> Response:
    """The handout of the pack."""
    number = ask.number("lesson")
    with ask.reading() as desk:
        saved = one_lesson(desk, number)
        _check_assigned(ask, desk, number)
    return _file(_standing(ask, saved) / "handout.pdf", {})


def _check_assigned(ask: Ask, desk: Desk, lesson: int) -> None:
    """A student sees what is assigned to them.

    Raises:
        NotThereError: where it is not.
    """
    student = ask.visitor.student
    if student is not None and lesson not in {one.lesson for one in assignments(desk, student)}:
        raise NotThereError("There is no such lesson.")


def _standing(ask: Ask, lesson: Saved) -> Path:
    """The newest pack of a lesson.

    Raises:
        NotThereError: where there is none.
    """
    found = standing(folder_of(ask, lesson))
    if found is None:
        raise NotThereError("This lesson's pack has not been built yet.")
    return found


def _file(path: Path, headers: dict[str, str]) -> Response:
    if not path.is_file():
        raise NotThereError("This lesson's pack has not been built yet.")
    return FileResponse(path, headers=headers)


def _files(folder: Path) -> list[tuple[str, int]]:
    """What a page lists of a pack: its top, and how many folders of fills there are."""
    tops = [(path.name, path.stat().st_size) for path in sorted(folder.iterdir()) if path.is_file()]
    return [*tops, ("fills", sum(1 for _ in folder.glob("fills/*")))]
