"""The map in a folder of recorded sounds, `sounds.toml`: which file is which stroke.

```
gain_db = -3.0          # for all of them

[[sound]]
surface = "snare"
up_to = 70              # the softer strokes: velocities up to 70
files = ["snare soft 1.wav", "snare soft 2.wav"]

[[sound]]
surface = "snare"       # without up_to: all the harder ones
files = ["snare hard 1.wav", "snare hard 2.wav", "snare hard 3.wav"]
gain_db = 1.5

[[sound]]
surface = "open hi-hat"
files = ["hats/open.flac"]
choked_by = ["hi-hat", "foot hi-hat"]
```
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fillwright.errors import SoundsError, UnknownNameError
from fillwright.music.surfaces import surface
from fillwright.tables.sound_table import number, read_table, shown, whole_number

MAP = "sounds.toml"
"""Name of the map."""

MAP_KEYS = ("gain_db", "sound")
SOUND_KEYS = ("surface", "files", "up_to", "gain_db", "choked_by")
"""What a map and its [[sound]] tables may hold."""

SUFFIXES = (".wav", ".flac")
MOST_SOUNDS, MOST_FILES = 200, 64
HARDEST = 127
GAIN_DB = (-60.0, 24.0)
"""How much louder or softer a sound may be made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """The strokes of one surface up to some velocity.

    Attributes:
        surface: its name.
        up_to: the hardest velocity; the files are played as they are there, softer below.
        files: alternates, played in turn.
        gain_db: of this layer and the whole map together.
        choked_by: the surfaces whose strokes stop it.
    """

    surface: str
    up_to: int
    files: tuple[Path, ...]
    gain_db: float
    choked_by: frozenset[str]


def read_map(folder: Path) -> tuple[Layer, ...]:
    """The layers of a folder's map, by surface and rising velocity.

    Raises:
        SoundsError: for a folder without a map, and for the first thing in it that can't be read.
    """
    if not (folder / MAP).exists():
        raise SoundsError(f'"{folder}" has no {MAP}, which says which file is which stroke; write one.')
    table = read_table(folder / MAP)
    _refuse_others(table, MAP_KEYS, "at the top")
    rows = table.get("sound", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise SoundsError(f"{MAP}: write [[sound]] above each sound, its keys below.")
    if not 0 < len(rows) <= MOST_SOUNDS:
        raise SoundsError(f"{MAP} has {len(rows)} sounds; write [[sound]] 1 to {MOST_SOUNDS} times.")
    common = number(MAP, "gain_db", table.get("gain_db", 0.0), GAIN_DB)
    layers = [_layer(row, place, folder.resolve(), common) for place, row in enumerate(rows, 1)]
    _refuse_twins(layers)
    return tuple(sorted(layers, key=lambda layer: (layer.surface, layer.up_to)))


def _layer(row: Mapping[str, Any], place: int, folder: Path, common_db: float) -> Layer:
    where = f"sound {place}"
    _refuse_others(row, SOUND_KEYS, f"in {where}")
    (name,) = _surfaces([row.get("surface")], where)
    files = _texts(row.get("files"), "files", where)
    if not 0 < len(files) <= MOST_FILES:
        raise SoundsError(f"{MAP}, {where}: there are {len(files)} files; name 1 to {MOST_FILES}.")
    return Layer(
        surface=name,
        up_to=whole_number(f"{MAP}, {where}", "up_to", row.get("up_to", HARDEST), (1, HARDEST)),
        files=tuple(_inside(folder, file, where) for file in files),
        gain_db=common_db + number(f"{MAP}, {where}", "gain_db", row.get("gain_db", 0.0), GAIN_DB),
        choked_by=frozenset(_surfaces(_texts(row.get("choked_by", []), "choked_by", where), where)),
    )


def _refuse_others(table: Mapping[str, Any], known: Sequence[str], where: str) -> None:
    for key in table:
        if key not in known:
            raise SoundsError(f'{MAP}: "{key}" is not read {where}; known are: {", ".join(known)}.')


def _refuse_twins(layers: Sequence[Layer]) -> None:
    seen: set[tuple[str, int]] = set()
    for layer in layers:
        if (layer.surface, layer.up_to) in seen:
            raise SoundsError(
                f"{MAP}: {layer.surface} has two sounds up to velocity {layer.up_to}; "
                "name alternates in one list of files, or give another up_to."
            )
        seen.add((layer.surface, layer.up_to))


def _texts(value: object, key: str, where: str) -> list[str]:
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise SoundsError(f'{MAP}, {where}: "{key}" is {shown(value)}; write a list of texts.')
    return value


def _surfaces(names: Sequence[object], where: str) -> list[str]:
    try:
        return [surface(str(name or "")).name for name in names]
    except UnknownNameError as error:
        raise SoundsError(f"{MAP}, {where}: {error}") from error


def _inside(folder: Path, name: str, where: str) -> Path:
    """The file of that name, which lies below the folder, links followed."""
    try:
        path = (folder / name).resolve()
        inside = path.is_relative_to(folder)
    except (OSError, RuntimeError, ValueError) as error:  # links in a circle, characters that no name has
        raise SoundsError(f"{MAP}, {where}: {shown(name)} can't be the name of a file.") from error
    if not inside:
        raise SoundsError(f"{MAP}, {where}: {shown(name)} lies outside of the folder; move the file into it.")
    if path.suffix.lower() not in SUFFIXES:
        raise SoundsError(
            f"{MAP}, {where}: {shown(name)} is no {' or '.join(SUFFIXES)} file; convert it first."
        )
    return path
