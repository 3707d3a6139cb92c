"""The report on a take in a folder: report.json, report.svg and report.pdf, all of them or none."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from fillwright.atomic import describe_reason, write_folder
from fillwright.errors import OutputError
from fillwright.listen.report.storage import encode_report
from fillwright.take.page import typeset_take
from fillwright.take.picture import draw_take
from fillwright.take.take import AssessedTake, record_take

FILES = ("report.json", "report.svg", "report.pdf")
"""Names of the files of a report."""


def write_report(take: AssessedTake, folder: Path, *, page: str) -> None:
    """Write the report on a take into a folder; other files in it stay.

    Args:
        take: with its report.
        folder: created if missing.
        page: "a4" or "letter".

    Raises:
        OutputError: if the folder can't be written; its files are then as before.
    """
    picture = draw_take(take.report, take.reference)
    table = json.dumps(encode_report(record_take(take)), ensure_ascii=False, indent=1) + "\n"
    contents = (
        table.encode("utf-8"),
        picture.full.svg.encode("utf-8"),
        typeset_take(take, picture, page=page),
    )
    write_together(folder, dict(zip(FILES, contents, strict=True)))


def write_together(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder, all of them or none.

    Raises:
        OutputError: if the folder is a file, is read-only or full.
    """
    if not folder.exists():
        with write_folder(folder) as new:
            for name, content in files.items():
                (new / name).write_bytes(content)
        return
    if not folder.is_dir():
        raise OutputError(f'"{folder}" is a file. Name a folder for the report.')
    staging: Path | None = None
    try:
        staging = Path(tempfile.mkdtemp(prefix=".fillwright-", suffix=".part", dir=folder))
        for name, content in files.items():
            (staging / name).write_bytes(content)
        _exchange(folder, staging, tuple(files))
    except OSError as error:
        raise OutputError(f'"{folder}" can\'t be written: {describe_reason(error)}.') from error
    finally:
        if staging:
            shutil.rmtree(staging, ignore_errors=True)


def _exchange(folder: Path, staging: Path, names: tuple[str, ...]) -> None:
    """Move the new files into the folder; if one can't be moved, put the old ones back."""
    moved: list[str] = []
    try:
        for name in names:
            if os.path.lexists(folder / name):
                (folder / name).rename(staging / f"old-{name}")
            moved.append(name)
            (staging / name).rename(folder / name)
    except BaseException:
        for name in moved:
            (folder / name).unlink(missing_ok=True)
            if os.path.lexists(staging / f"old-{name}"):
                (staging / f"old-{name}").rename(folder / name)
        raise
