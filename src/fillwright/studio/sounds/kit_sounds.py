"""The kit as the studio's pages play it: every loudness of every sound is a recording of its own, a layer.

A page fetches the layers that its fill needs. Each is rendered when it is first needed, and cached on disk.
"""

from __future__ import annotations

import json
import shutil
import struct
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import platformdirs

from fillwright.atomic import write_file
from fillwright.errors import NotThereError, OutputError
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Bar, Part, Phrase
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import Surface, load_surfaces
from fillwright.music.timing import Feel
from fillwright.pack.practice.data import describe_phrase, describe_rules, describe_sounds
from fillwright.pack.practice.sounds import PackedSounds, count_variations, fit_power, record_sounds
from fillwright.pack.practice.strokes import build_page_score, map_places, round_place
from fillwright.studio.sounds.open_sounds import Sounds, get_modelled_kit
from fillwright.studio.work.shared_results import share_results

_FLAM_MS = 25.0
"""Gap of a flam's grace note in ms; a fill's own feel replaces it. Ours, not measured."""

_MOST_CACHED_KITS = 8
"""Kits whose sounds stay on disk; each has about 3 MB. Ours."""

_FOLDER_PREFIX = "studio-kit-"


def list_layers(sounds: Sounds) -> dict[str, Any]:
    """Return what a page needs to play: rules of playing, and velocity and number of each sound's layers."""
    names = _list_names()
    layers: dict[str, list[tuple[int, int]]] = {name: [] for name in names}
    for number, (name, velocity) in enumerate(_number_layers(), start=1):
        layers[name].append((velocity, number))
    return {"digest": sounds.digest, "rules": describe_rules(_FLAM_MS, names, sounds.bank), "layers": layers}


@share_results(maxsize=64)
def load_layer(sounds: Sounds, number: int) -> bytes:
    """Return one loudness of one sound: a length in four bytes, JSON of that length, then an MP3 file.

    Args:
        sounds: that the layer belongs to.
        number: from 1, as `list_layers` gives it.

    Raises:
        NotThereError: if there is no such layer.
    """
    if not 0 < number <= len(_number_layers()):
        raise NotThereError("The kit has no such sound.")
    path = _locate_folder(sounds) / f"{number}"
    with suppress(OSError, ValueError, struct.error):
        return _check_layer(path.read_bytes())
    content = _encode_layer(_render_layer(sounds, *_number_layers()[number - 1]))
    with suppress(OSError, OutputError):
        _make_folder(path.parent)
        write_file(path, content)
    return content


def load_all_layers() -> None:
    """Load every layer of the modelled kit. The first time on a machine, this takes a while."""
    for number in range(1, len(_number_layers()) + 1):
        load_layer(get_modelled_kit(), number)


def build_player_data(phrase: Phrase, feel: Feel) -> dict[str, Any]:
    """Return a phrase as the page's player needs it."""
    page_score = build_page_score(phrase, feel)
    get_time = map_places(phrase, feel)
    span = phrase.span
    return {
        **describe_phrase(phrase, page_score, _list_names()),
        "span": [get_time(span.start), round_place(float(span.end))] if span else [0, 0],
        "flamMs": feel.flam_ms,
    }


def _render_layer(sounds: Sounds, name: str, velocity: int) -> PackedSounds:
    velocities = _count_kit_variations()[name]
    packed = record_sounds({name: {velocity: velocities[velocity]}}, sounds.bank)
    power = fit_power(sounds.bank, name, velocities)
    return replace(packed, sounds={name: replace(packed.sounds[name], power=power)})


def _encode_layer(packed: PackedSounds) -> bytes:
    head = json.dumps({**describe_sounds(packed), "bytes": len(packed.recording)}).encode("utf-8")
    return struct.pack(">I", len(head)) + head + packed.recording


def _check_layer(content: bytes) -> bytes:
    """Return a layer from disk, if its file is complete.

    Raises:
        ValueError: if it is not; `struct.error` likewise.
    """
    (length,) = struct.unpack_from(">I", content)
    head = json.loads(content[4 : 4 + length])
    if not isinstance(head, dict) or head.get("bytes") != len(content) - 4 - length:
        raise ValueError("incomplete")
    return content


def _locate_folder(sounds: Sounds) -> Path:
    return platformdirs.user_cache_path("fillwright") / f"{_FOLDER_PREFIX}{sounds.digest}"


def _make_folder(folder: Path) -> None:
    """Make a kit's folder, and delete those of kits that were not used for longest."""
    if folder.is_dir():
        return
    folder.mkdir(parents=True, exist_ok=True)
    folders = folder.parent.glob(f"{_FOLDER_PREFIX}*/")
    for old in sorted(folders, key=lambda path: path.stat().st_mtime, reverse=True)[_MOST_CACHED_KITS:]:
        shutil.rmtree(old, ignore_errors=True)


@cache
def _count_kit_variations() -> Mapping[str, Mapping[int, int]]:
    """Return how many variations each velocity of each sound of the kit has."""
    return count_variations(build_page_score(_build_phrase(), Feel()).strokes, 1)


@cache
def _list_names() -> tuple[str, ...]:
    return tuple(sorted(_count_kit_variations()))


@cache
def _number_layers() -> tuple[tuple[str, int], ...]:
    """Return sounds and velocities, in the order of their numbers."""
    return tuple(
        (name, velocity) for name in _list_names() for velocity in sorted(_count_kit_variations()[name])
    )


def _build_phrase() -> Phrase:
    """Build bars of strokes that use every sound of the kit."""
    hits: list[Hit] = []
    for surface in load_surfaces().values():
        for stroke in _list_strokes(surface):
            at = len(hits) * _STROKE_LENGTH
            hits.append(Hit(at=at, length=_STROKE_LENGTH, stroke=stroke, surface=surface))
    size = find_meter("4/4").bar
    count = -(-len(hits) * _STROKE_LENGTH // size)
    bars = [
        Bar(part=Part.GROOVE, hits=tuple(h.shift(-n * size) for h in hits if n * size <= h.at < (n + 1) * size))
        for n in range(int(count))
    ]
    return Phrase(meter=find_meter("4/4"), bars=tuple(bars))


_STROKE_LENGTH = Fraction(1, 4)
"""Length of each stroke of that phrase, in whole notes. Ours."""


def _list_strokes(surface: Surface) -> list[Stroke]:
    limb = surface.foot or Limb.RIGHT
    strokes = [Stroke(hand=limb, level=level) for level in Level]
    if surface.foot is None:
        strokes.append(Stroke(hand=limb, kind=Kind.FLAM))
        strokes.append(Stroke(hand=limb, kind=Kind.BUZZ))
    return strokes
