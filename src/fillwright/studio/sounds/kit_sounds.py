"""The kit as the studio's pages play it: every loudness of every sound is a recording of its own.

A page fetches those that its fill strikes. Each is made when it is first asked for, and kept on disk.
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

from fillwright.atomic import write_whole
from fillwright.errors import NotThereError, OutputError
from fillwright.music.hit import Hit
from fillwright.music.meter import meter
from fillwright.music.phrase import Bar, Part, Phrase
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import Surface, surfaces
from fillwright.music.timing import Feel
from fillwright.pack.practice.data import packed_table, rules_table, time_table
from fillwright.pack.practice.sounds import Packed, power_of, recorded, wanted
from fillwright.pack.practice.strokes import place, places, score
from fillwright.studio.sounds.open_sounds import Sounds, modelled
from fillwright.studio.work.once import once

_FLAM_MS = 25.0
_KITS_KEPT = 8
_FOLDERS = "studio-kit-"


def kit_table(sounds: Sounds) -> dict[str, Any]:
    """What a page must know to play: how strokes sound, and velocity and number of each sound's layers."""
    names = _names()
    layers: dict[str, list[tuple[int, int]]] = {name: [] for name in names}
    for number, (name, velocity) in enumerate(_layers(), start=1):
        layers[name].append((velocity, number))
    return {"digest": sounds.digest, "rules": rules_table(_FLAM_MS, names, sounds.bank), "layers": layers}


@once(maxsize=64)
def layer(sounds: Sounds, number: int) -> bytes:
    """One loudness of one sound: four bytes of length, so many of JSON as the player has it, an MP3 file.

    Args:
        sounds: whose.
        number: as the table has it, from 1.

    Raises:
        NotThereError: where there is none of that number.
    """
    if not 0 < number <= len(_layers()):
        raise NotThereError("The kit has no such sound.")
    kept = _kept(sounds) / f"{number}"
    with suppress(OSError, ValueError, struct.error):
        return _checked(kept.read_bytes())
    made = _framed(_made(sounds, *_layers()[number - 1]))
    with suppress(OSError, OutputError):
        _make_room(kept.parent)
        write_whole(kept, made)
    return made


def make_all() -> None:
    """Every sound of the modelled kit; for the first time on a machine, that takes a while."""
    for number in range(1, len(_layers()) + 1):
        layer(modelled(), number)


def playable(phrase: Phrase, feel: Feel) -> dict[str, Any]:
    """A phrase as the player plays it."""
    played = score(phrase, feel)
    when = places(phrase, feel)
    span = phrase.span
    return {
        **time_table(phrase, played, _names()),
        "span": [when(span.start), place(float(span.end))] if span else [0, 0],
        "flamMs": feel.flam_ms,
    }


def _made(sounds: Sounds, name: str, velocity: int) -> Packed:
    velocities = _wanted()[name]
    made = recorded({name: {velocity: velocities[velocity]}}, sounds.bank)
    power = power_of(sounds.bank, name, velocities)
    return replace(made, sounds={name: replace(made.sounds[name], power=power)})


def _framed(made: Packed) -> bytes:
    head = json.dumps({**packed_table(made), "bytes": len(made.recording)}).encode("utf-8")
    return struct.pack(">I", len(head)) + head + made.recording


def _checked(content: bytes) -> bytes:
    """What was kept, if it is whole.

    Raises:
        ValueError: where it is not; so does `struct.error`.
    """
    (length,) = struct.unpack_from(">I", content)
    head = json.loads(content[4 : 4 + length])
    if not isinstance(head, dict) or head.get("bytes") != len(content) - 4 - length:
        raise ValueError("broken off")
    return content


def _kept(sounds: Sounds) -> Path:
    return platformdirs.user_cache_path("fillwright") / f"{_FOLDERS}{sounds.digest}"


def _make_room(folder: Path) -> None:
    """Make a kit's folder; where it is new, what was kept of kits long unused goes."""
    if folder.is_dir():
        return
    folder.mkdir(parents=True, exist_ok=True)
    others = folder.parent.glob(f"{_FOLDERS}*/")
    for old in sorted(others, key=lambda path: path.stat().st_mtime, reverse=True)[_KITS_KEPT:]:
        shutil.rmtree(old, ignore_errors=True)


@cache
def _wanted() -> Mapping[str, Mapping[int, int]]:
    """How many variations of each velocity of each sound the kit has."""
    return wanted(score(_everything(), Feel()).strokes, 1)


@cache
def _names() -> tuple[str, ...]:
    return tuple(sorted(_wanted()))


@cache
def _layers() -> tuple[tuple[str, int], ...]:
    """Sounds and velocities, in the order of their numbers."""
    return tuple((name, velocity) for name in _names() for velocity in sorted(_wanted()[name]))


def _everything() -> Phrase:
    """A bar of strokes that uses every sound of the kit."""
    hits: list[Hit] = []
    for where in surfaces().values():
        for stroke in _strokes(where):
            hits.append(Hit(at=len(hits) * _STEP, length=_STEP, stroke=stroke, surface=where))
    size = meter("4/4").bar
    count = -(-len(hits) * _STEP // size)
    bars = [
        Bar(part=Part.GROOVE, hits=tuple(h.moved(-n * size) for h in hits if n * size <= h.at < (n + 1) * size))
        for n in range(int(count))
    ]
    return Phrase(meter=meter("4/4"), bars=tuple(bars))


_STEP = Fraction(1, 4)


def _strokes(where: Surface) -> list[Stroke]:
    limb = where.foot or Limb.RIGHT
    made = [Stroke(hand=limb, level=level) for level in Level]
    if where.foot is None:
        made.append(Stroke(hand=limb, kind=Kind.FLAM))
        made.append(Stroke(hand=limb, kind=Kind.BUZZ))
    return made
