"""Calibration: four strokes on each drum, recorded once, so that wrong drums in a take can be detected."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import msgspec
import numpy as np

from fillwright import budget
from fillwright.errors import FillwrightError, UnknownNameError
from fillwright.listen.calibration import Calibration
from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.music.surfaces import load_surfaces
from fillwright.take.midi import read_bytes

STROKES = 4  # on each surface; ours; trials with simulated takes used as many
VERSION = 1  # of the file's keys
_LEAST_CONFIDENCE = 0.5  # of an onset that counts as a stroke; ours
_MOST_FEATURES = 512  # values of one timbre; ours, far above what is measured


class _Stroke(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    loudness_db: float = msgspec.field(name="level_db")
    timbre: list[float]


class _File(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    version: int
    surfaces: dict[str, list[_Stroke]]


def parse_surface_names(text: str) -> tuple[str, ...]:
    """Split names of surfaces at commas, in the order in which they are struck.

    Raises:
        UnknownNameError: for an unknown surface.
        FillwrightError: for fewer than two, or one named twice.

    >>> parse_surface_names("snare, high tom,floor tom")
    ('snare', 'high tom', 'floor tom')
    """
    names = tuple(" ".join(part.split()) for part in text.split(",") if part.strip())
    for name in names:
        if name not in load_surfaces():
            raise UnknownNameError.of("surface", name[:40], load_surfaces())
    if len(names) < 2:
        raise FillwrightError(
            f'A calibration needs two surfaces or more, not "{text[:40]}": "snare, high tom, floor tom".'
        )
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise FillwrightError(
            f'"{twice}" is there twice. Name each surface once, in the order of the recording.'
        )
    return names


def calibrate(detected: DetectedTake, names: Sequence[str]) -> Calibration:
    """Return the sound of each surface, from a recording of four strokes on each, one surface after the other.

    Raises:
        FillwrightError: for another number of strokes, or a MIDI file.
    """
    if detected.from_midi:
        raise FillwrightError("An electronic kit sends the drum with every stroke. It needs no calibration.")
    onsets = [onset for onset in detected.onsets if onset.confidence >= _LEAST_CONFIDENCE]
    wanted = STROKES * len(names)
    if len(onsets) != wanted:
        raise FillwrightError(
            f"The take has {len(onsets)} strokes, not {wanted}: {STROKES} on each of {len(names)} surfaces. "
            "Strike each one four times, a second apart, let it ring out, and record nothing else."
        )
    return Calibration(
        strokes={
            name: tuple(onsets[STROKES * index : STROKES * (index + 1)]) for index, name in enumerate(names)
        }
    )


def encode_calibration(calibration: Calibration) -> bytes:
    """Return a calibration as the bytes of its file."""
    table = {
        "version": VERSION,
        "surfaces": {
            name: [
                {
                    "level_db": round(onset.loudness_db, 2),
                    "timbre": [round(float(value), 4) for value in onset.timbre],
                }
                for onset in strokes
            ]
            for name, strokes in calibration.strokes.items()
        },
    }
    return (json.dumps(table, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def read_calibration(path: Path) -> Calibration:
    """Read the file of a calibration: the inverse of `encode_calibration`.

    Raises:
        FillwrightError: for a file that can't be read or is not a calibration.
    """
    content = read_bytes(path, budget.CALIBRATION_BYTES)
    try:
        table = msgspec.json.decode(content, type=_File)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise FillwrightError(
            f'"{path}" is not a calibration. Make one with fillwright listen --calibrate TAKE --surfaces NAMES.'
        ) from error
    if table.version != VERSION:
        raise FillwrightError(
            f'"{path}" is a calibration of version {table.version}, not {VERSION}. Record it again.'
        )
    sizes = {len(stroke.timbre) for strokes in table.surfaces.values() for stroke in strokes}
    counts = {len(strokes) for strokes in table.surfaces.values()}
    if (
        len(table.surfaces) < 2
        or counts != {STROKES}
        or len(sizes) != 1
        or not 0 < max(sizes) <= _MOST_FEATURES
    ):
        raise FillwrightError(
            f'"{path}" is a damaged calibration: it needs {STROKES} strokes on each of two surfaces or '
            "more, all measured alike. Record it again."
        )
    for name in table.surfaces:
        if name not in load_surfaces():
            raise UnknownNameError.of("surface", name[:40], load_surfaces())
    return Calibration(
        strokes={
            name: tuple(
                Onset(
                    seconds=0.0,
                    strength_db=0.0,
                    loudness_db=stroke.loudness_db,
                    timbre=np.array(stroke.timbre, np.float64),
                )
                for stroke in strokes
            )
            for name, strokes in table.surfaces.items()
        }
    )
