"""The report on a take in a folder: report.json, report.svg and report.pdf, all of them or none."""

from __future__ import annotations

import json
from pathlib import Path

from fillwright.atomic import write_together
from fillwright.listen.report.stored.storage import encode_report
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
