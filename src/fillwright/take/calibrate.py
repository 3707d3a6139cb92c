"""Calibration: four strokes on each drum, recorded once, so that a wrong drum in a take can be told."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import msgspec
import numpy as np

from fillwright.errors import FillwrightError, UnknownNameError
from fillwright.listen.calibration import Calibration
from fillwright.listen.onset_list import Heard, Onset
from fillwright.music.surfaces import surfaces
from fillwright.take.midi import read_bytes

STROKES = 4
"""On each surface."""

VERSION = 1
_LARGEST_BYTES = 1_000_000
_LEAST_TRUST = 0.5
_MOST_FEATURES = 512


class _Stroke(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    level_db: float
    timbre: list[float]


class _File(msgspec.Struct, kw_only=True, forbid_unknown_fields=True):
    version: int
    surfaces: dict[str, list[_Stroke]]


def parse_surface_names(text: str) -> tuple[str, ...]:
    """Names of surfaces, separated by commas, in the order in which they are struck.

    Raises:
        UnknownNameError: for a surface that stands in no table.
        FillwrightError: for none, one alone, or one named twice.

    >>> surface_names("snare, high tom,floor tom")
    ('snare', 'high tom', 'floor tom')
    """
    names = tuple(" ".join(part.split()) for part in text.split(",") if part.strip())
    for name in names:
        if name not in surfaces():
            raise UnknownNameError.of("surface", name[:40], surfaces())
    if len(names) < 2:
        raise FillwrightError(
            f'A calibration of "{text[:40]}" tells nothing apart; name two surfaces or more, '
            '"snare, high tom, floor tom".'
        )
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise FillwrightError(
            f'"{twice}" is named twice; name each surface once, in the order of the recording.'
        )
    return names


def calibrate(heard: Heard, names: Sequence[str]) -> Calibration:
    """What each surface sounds like, from a recording of four strokes on each, one surface after the other.

    Raises:
        FillwrightError: where the number of strokes is another, or the recording is MIDI or overdriven.
    """
    if heard.from_midi:
        raise FillwrightError("An electronic kit says itself which drum was struck; it needs no calibration.")
    onsets = [onset for onset in heard.onsets if onset.trust >= _LEAST_TRUST]
    wanted = STROKES * len(names)
    if len(onsets) != wanted:
        raise FillwrightError(
            f"{len(onsets)} strokes were heard; {STROKES} on each of {len(names)} surfaces make {wanted}. "
            "Strike each surface four times, a second apart, let each ring out, and record nothing else."
        )
    return Calibration(
        strokes={
            name: tuple(onsets[STROKES * place : STROKES * (place + 1)]) for place, name in enumerate(names)
        }
    )


def encode_calibration(calibration: Calibration) -> bytes:
    """A calibration as the bytes of its file."""
    table = {
        "version": VERSION,
        "surfaces": {
            name: [
                {
                    "level_db": round(onset.level_db, 2),
                    "timbre": [round(float(value), 4) for value in onset.timbre],
                }
                for onset in strokes
            ]
            for name, strokes in calibration.strokes.items()
        },
    }
    return (json.dumps(table, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def read_calibration(path: Path) -> Calibration:
    """The calibration in a file: the inverse of `encode_calibration`.

    Raises:
        FillwrightError: for a file that can't be read or is no calibration.
    """
    content = read_bytes(path, _LARGEST_BYTES)
    try:
        table = msgspec.json.decode(content, type=_File)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise FillwrightError(
            f'"{path}" is no calibration; make one with fillwright listen --calibrate TAKE --surfaces NAMES.'
        ) from error
    if table.version != VERSION:
        raise FillwrightError(f'"{path}" is a calibration of version {table.version}; record it anew.')
    sizes = {len(stroke.timbre) for strokes in table.surfaces.values() for stroke in strokes}
    counts = {len(strokes) for strokes in table.surfaces.values()}
    if (
        len(table.surfaces) < 2
        or counts != {STROKES}
        or len(sizes) != 1
        or not 0 < max(sizes) <= _MOST_FEATURES
    ):
        raise FillwrightError(
            f'"{path}" is a calibration that is damaged: it needs {STROKES} strokes on each of two surfaces or '
            "more, all measured alike; record it anew."
        )
    for name in table.surfaces:
        if name not in surfaces():
            raise UnknownNameError.of("surface", name[:40], surfaces())
    return Calibration(
        strokes={
            name: tuple(
                Onset(
                    seconds=0.0,
                    strength_db=0.0,
                    level_db=stroke.level_db,
                    timbre=np.array(stroke.timbre, np.float64),
                )
                for stroke in strokes
            )
            for name, strokes in table.surfaces.items()
        }
    )
