"""The report on a take in a folder: report.json, report.svg and report.pdf, all of them or none."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from fillwright.atomic import folder_written_whole, reason
from fillwright.errors import OutputError
from fillwright.take.page import typeset_take
from fillwright.take.picture import draw_take
from fillwright.take.take import AssessedTake, as_json

FILES = ("report.json", "report.svg", "report.pdf")


def write_report(taken: AssessedTake, folder: Path, *, page: str) -> None:
    """Write the report on a take into a folder; other files in it stay.

    Args:
        taken: what is said of the take.
        folder: made if missing.
        page: "a4" or "letter".

    Raises:
        OutputError: where the folder can't be written; what was there is then untouched.
    """
    drawn = draw_take(taken.report, taken.against)
    table = json.dumps(as_json(taken), ensure_ascii=False, indent=1) + "\n"
    contents = (
        table.encode("utf-8"),
        drawn.whole.svg.encode("utf-8"),
        typeset_take(taken, drawn, page=page),
    )
    write_together(folder, dict(zip(FILES, contents, strict=True)))


def write_together(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder, all of them or none.

    Raises:
        OutputError: where the folder is a file, is closed to us or full.
    """
    if not folder.exists():
        with folder_written_whole(folder) as new:
            for name, content in files.items():
                (new / name).write_bytes(content)
        return
    if not folder.is_dir():
        raise OutputError(f'"{folder}" is a file; give the name of a folder for the report.')
    beside: Path | None = None
    try:
        beside = Path(tempfile.mkdtemp(prefix=".fillwright-", suffix=".part", dir=folder))
        for name, content in files.items():
            (beside / name).write_bytes(content)
        _exchange(folder, beside, tuple(files))
    except OSError as error:
        raise OutputError(f'"{folder}" can\'t be written: {reason(error)}.') from error
    finally:
        if beside:
            shutil.rmtree(beside, ignore_errors=True)


def _exchange(folder: Path, beside: Path, names: tuple[str, ...]) -> None:
    """Move what was made to its place; where one can't be moved, all that was there comes back."""
    done: list[str] = []
    try:
        for name in names:
            if os.path.lexists(folder / name):
                (folder / name).rename(beside / f"old-{name}")
            done.append(name)
            (beside / name).rename(folder / name)
    except BaseException:
        for name in done:
            (folder / name).unlink(missing_ok=True)
            if os.path.lexists(beside / f"old-{name}"):
                (beside / f"old-{name}").rename(folder / name)
        raise
