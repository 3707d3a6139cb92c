"""Functions for processes of their own: they read what a visitor sent, or work for long, and return bytes."""

from __future__ import annotations

import json
from pathlib import Path

from fillwright.errors import SoundsError
from fillwright.listen.report.stored.storage import encode_report
from fillwright.music.surfaces import load_surfaces
from fillwright.pack.build import build_pack
from fillwright.score.parts.midi_notes import get_default_notes
from fillwright.sound.model.instrument import ACCENT_VELOCITY
from fillwright.studio.work.lessons import plan_text
from fillwright.tables.sounds import open_sounds
from fillwright.take.picture import draw_take
from fillwright.take.reference import Reference
from fillwright.take.take import assess_take, record_take


def assess_recording(path: str, reference: Reference) -> bytes:
    """Return the report on a recording and its drawing, as JSON.

    Raises:
        FillwrightError: for a recording that can't be read.
    """
    take = assess_take(Path(path), reference, note_map=get_default_notes())
    drawing = draw_take(take.report, take.reference).full.svg
    return json.dumps({"report": encode_report(record_take(take)), "drawing": drawing}).encode("utf-8")


def build_lesson_pack(text: str, before: tuple[str, ...], folder: str, sounds: str, progress: str) -> bytes:
    """Build the pack of a lesson.

    Args:
        text: of the lesson.
        before: texts of the lessons before it.
        folder: of the pack.
        sounds: path of the recorded sounds; "" for the modelled kit.
        progress: path of a file that says how far it is, as JSON.

    Raises:
        FillwrightError: for a lesson that can't be built, or a folder that can't be written.
    """

    def report_file(name: str, done: int, total: int) -> None:
        new = Path(f"{progress}.new")
        new.write_text(json.dumps([name, done, total]), "utf-8")
        new.replace(progress)

    path = Path(sounds)
    bank = open_sounds(path, warn=lambda _: None, name=path.name) if sounds else None
    build_pack(plan_text(text, before).lesson, text, Path(folder), progress=report_file, bank=bank)
    return b""


def check_sounds(path: str) -> bytes:
    """Open recorded sounds and play every drum and cymbal once; return the warnings as JSON.

    Raises:
        FillwrightError: for sounds that can't be used.
    """
    warnings: dict[str, None] = {}
    bank = open_sounds(Path(path), warn=warnings.setdefault, name=Path(path).name)
    for name in load_surfaces():
        bank.get_shot(name, ACCENT_VELOCITY, 0)
    if not bank.shots_held:
        raise SoundsError(f'"{Path(path).name}" has no sound that can be played.')
    return json.dumps(list(warnings)).encode("utf-8")
