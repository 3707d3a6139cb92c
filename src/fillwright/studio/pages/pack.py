"""A lesson's pack: build it, watch it being built, download it."""

from __future__ import annotations

from pathlib import Path

from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse

from fillwright.errors import NotThereError
from fillwright.pack.build import is_current
from fillwright.store.lessons import SavedLesson, get_lesson, get_series
from fillwright.store.students import list_assignments
from fillwright.store.transaction import Transaction
from fillwright.studio.sounds.open_sounds import list_sounds, open_chosen_sounds
from fillwright.studio.web.render import redirect, render_page
from fillwright.studio.web.request import PageRequest
from fillwright.studio.work.builds import find_newest_pack, read_sounds_name, zip_pack
from fillwright.studio.work.lessons import plan_lesson

_PRACTICE = "practice.html"
_HANDOUT = "handout.pdf"
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
"""Content security policy of the practice page, which carries everything in itself and loads nothing else."""


def locate_packs(request: PageRequest, lesson: SavedLesson) -> Path:
    """Return the folder of a lesson's packs. Its path has numbers only, never a text from a visitor."""
    return request.setup.packs / f"{request.visitor.teacher}" / f"lesson-{lesson.id}"


def show(request: PageRequest) -> Response:
    """Show the contents of the pack, and if it is up to date."""
    number = request.number("lesson")
    with request.begin_reading() as transaction:
        saved = get_lesson(transaction, number)
        series = get_series(transaction, saved.series)
        planned = plan_lesson(transaction, number)
    folder = locate_packs(request, saved)
    pack = find_newest_pack(folder)
    chosen = open_chosen_sounds(request)
    current = pack is not None and is_current(
        pack, planned.lesson, planned.fills, planned.text, bank=chosen.recordings
    )
    return render_page(
        request,
        "pack.html",
        saved=saved,
        series=series,
        built=pack is not None,
        current=current,
        sounds=read_sounds_name(pack) if pack else "",
        chosen=chosen.name,
        files=_list_files(pack) if pack else [],
        progress=request.setup.builds.progress(folder),
    )


def build(request: PageRequest) -> Response:
    """Start to build the pack."""
    number = request.number("lesson")
    with request.begin_reading() as transaction:
        saved = get_lesson(transaction, number)
        planned = plan_lesson(transaction, number)
    chosen = open_chosen_sounds(request)
    sounds = list_sounds(request.setup.sounds).get(chosen.name) if chosen.recordings else None
    folder = locate_packs(request, saved)
    request.setup.builds.start(planned, folder, teacher=request.visitor.teacher, sounds=sounds)
    return redirect(f"/lessons/{number}/pack")


def cancel(request: PageRequest) -> Response:
    """Cancel the build of the pack; the pack that was built before stays."""
    number = request.number("lesson")
    with request.begin_reading() as transaction:
        saved = get_lesson(transaction, number)
    request.setup.builds.cancel(locate_packs(request, saved))
    return redirect(f"/lessons/{number}/pack", "cancelled")


def send_progress(request: PageRequest) -> Response:
    """Send the progress of the build, for the page to show live."""
    with request.begin_reading() as transaction:
        saved = get_lesson(transaction, request.number("lesson"))
    progress = request.setup.builds.progress(locate_packs(request, saved))
    if progress is None:
        return JSONResponse({"running": False, "place": 0, "share": 0, "what": "", "failed": False})
    return JSONResponse(
        {
            "running": progress.running,
            "place": progress.place,
            "share": progress.percent,
            "what": progress.text,
            "failed": progress.failed,
        }
    )


def download(request: PageRequest) -> Response:
    """Send the pack as a zip."""
    with request.begin_reading() as transaction:
        saved = get_lesson(transaction, request.number("lesson"))
    name = f"lesson-{saved.number}"
    return StreamingResponse(
        zip_pack(_require_pack(request, saved), name),
        media_type="application/zip",
        headers={"content-disposition": f'attachment; filename="{name}.zip"'},
    )


def send_practice_page(request: PageRequest) -> Response:
    """Send the pack's practice page, to the teacher and to students with an assignment of the lesson."""
    return _send_file(request, _PRACTICE, {"content-security-policy": _PRACTICE_POLICY})


def send_handout(request: PageRequest) -> Response:
    """Send the pack's handout, to the teacher and to students with an assignment of the lesson."""
    return _send_file(request, _HANDOUT, {})


def check_assigned(request: PageRequest, transaction: Transaction, lesson: int) -> None:
    """Check that a student has an assignment of the lesson.

    Raises:
        NotThereError: if they don't.
    """
    student = request.visitor.student
    if student is not None and lesson not in {row.lesson for row in list_assignments(transaction, student)}:
        raise NotThereError("There is no such lesson.")


def _require_pack(request: PageRequest, lesson: SavedLesson) -> Path:
    """Return the newest pack of a lesson.

    Raises:
        NotThereError: if there is none.
    """
    pack = find_newest_pack(locate_packs(request, lesson))
    if pack is None:
        raise NotThereError("The pack of this lesson is not built yet.")
    return pack


def _send_file(request: PageRequest, name: str, headers: dict[str, str]) -> Response:
    number = request.number("lesson")
    with request.begin_reading() as transaction:
        saved = get_lesson(transaction, number)
        check_assigned(request, transaction, number)
    path = _require_pack(request, saved) / name
    if not path.is_file():
        raise NotThereError("The pack of this lesson is not built yet.")
    return FileResponse(path, headers=headers)


def _list_files(folder: Path) -> list[tuple[str, int]]:
    """Return the names and bytes of a pack's files, and at the end the number of its folders of fills."""
    files = [(path.name, path.stat().st_size) for path in sorted(folder.iterdir()) if path.is_file()]
    return [*files, ("fills", sum(1 for _ in folder.glob("fills/*")))]
