"""SoundFont 2 files: which sounds they have on which keys and velocities, and whether they are whole.

A reader of the tables only (the chunk "pdta"); the sounds themselves are FluidSynth's to play. Every index is
held to its table here, so that nothing damaged reaches a library written in C.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt

from fillwright.errors import SoundsError
from fillwright.sound.samples.riff import Chunk, ChunkError, iterate_chunks, read_chunk

_LARGEST_TABLES = 64_000_000
_MODULATOR = [("source", "<u2"), ("what", "<u2"), ("amount", "<i2"), ("by", "<u2"), ("transform", "<u2")]
_RECORDS: dict[str, list[tuple[str, str]]] = {
    "phdr": [
        ("name", "S20"), ("program", "<u2"), ("bank", "<u2"), ("first", "<u2"),
        ("library", "<u4"), ("genre", "<u4"), ("morphology", "<u4"),
    ],
    "pbag": [("first", "<u2"), ("modulators", "<u2")],
    "pmod": _MODULATOR,
    "pgen": [("what", "<u2"), ("amount", "<u2")],
    "inst": [("name", "S20"), ("first", "<u2")],
    "ibag": [("first", "<u2"), ("modulators", "<u2")],
    "imod": _MODULATOR,
    "igen": [("what", "<u2"), ("amount", "<u2")],
    "shdr": [
        ("name", "S20"), ("start", "<u4"), ("end", "<u4"), ("loop_start", "<u4"), ("loop_end", "<u4"),
        ("rate", "<u4"), ("pitch", "u1"), ("cents", "i1"), ("link", "<u2"), ("type", "<u2"),
    ],
}  # fmt: skip
_POINTS = (
    ("phdr", "first", "pbag"),
    ("pbag", "first", "pgen"),
    ("pbag", "modulators", "pmod"),
    ("inst", "first", "ibag"),
    ("ibag", "first", "igen"),
    ("ibag", "modulators", "imod"),
)
_INSTRUMENT, _KEYS, _VELOCITIES, _SAMPLE, _EXCLUSIVE = 41, 43, 44, 53, 57
_IN_ROM, _COMPRESSED = 0x8000, 0x10

Range = tuple[int, int]
"""The lowest and the highest key or velocity."""

_ALL: Range = (0, 127)


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """One sample on some keys and velocities of a preset.

    Attributes:
        keys: that sound it.
        velocities: that sound it.
        exclusive: its exclusive class: strokes of one class stop each other; 0 for none.
        sample: its number.
    """

    keys: Range
    velocities: Range
    exclusive: int
    sample: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Preset:
    """A preset by its numbers.

    Attributes:
        bank: 128 for percussion.
        program: within its bank, from 0.
        name: as the file has it.
        zones: what can be heard.
        compressed: whether any sample of the file is.
    """

    bank: int
    program: int
    name: str
    zones: tuple[Zone, ...]
    compressed: bool = False

    def list_layers(self, key: int) -> tuple[Range, ...]:
        """The velocity layers of a key, ascending: within one of them the same samples sound."""
        ranges = [zone.velocities for zone in self.zones if _within(key, zone.keys)]
        edges = sorted({low for low, _ in ranges} | {high + 1 for _, high in ranges})
        spans = [(low, following - 1) for low, following in pairwise(edges)]
        return tuple(span for span in spans if any(low <= span[0] and span[1] <= high for low, high in ranges))

    def exclusive(self, key: int) -> int:
        """The exclusive class of a key, 0 for none."""
        return max((zone.exclusive for zone in self.zones if _within(key, zone.keys)), default=0)


def _within(value: int, span: Range) -> bool:
    return span[0] <= value <= span[1]


def read_presets(path: Path) -> tuple[Preset, ...]:
    """Every preset of a SoundFont, in the order of banks and programs.

    Raises:
        SoundsError: for a file that is no SoundFont, is cut short or points beyond its own tables.
        OSError: for a file that can't be read.
    """
    with path.open("rb") as file:
        tables, sound_bytes = _tables(file, path.name)
    _check(tables, path.name)
    reader = _Reader(tables=tables, sound_bytes=sound_bytes)
    heads = tables["phdr"]
    made = [reader.preset(number) for number in range(len(heads) - 1)]
    return tuple(sorted(made, key=lambda preset: (preset.bank, preset.program)))


Table = npt.NDArray[Any]


def _check(tables: Mapping[str, Table], name: str) -> None:
    """Refuse tables that point outside of one another."""
    for table, column, pointed in _POINTS:
        places = tables[table][column].astype(np.int64)
        if np.any(np.diff(places) < 0) or places[-1] >= len(tables[pointed]):
            raise _damaged(name, f'its table "{table}" points outside of "{pointed}"')
    for table, what, pointed in (("pgen", _INSTRUMENT, "inst"), ("igen", _SAMPLE, "shdr")):
        rows = tables[table]
        if np.any(rows["amount"][rows["what"] == what] >= len(tables[pointed]) - 1):
            raise _damaged(name, f'its table "{table}" points outside of "{pointed}"')


def _tables(file: BinaryIO, name: str) -> tuple[Mapping[str, Table], int]:
    """The tables of a file, and how many bytes of sound it has."""
    size = file.seek(0, 2)
    file.seek(0)
    start = file.read(12)
    if start[:4] != b"RIFF" or start[8:12] != b"sfbk":
        raise SoundsError(f'"{name}" is no SoundFont, whatever its name says; give a SoundFont 2 file.')
    try:
        lists = {_kind(file, found): found for found in _whole(file, size)}
        parts = {found.name: found for found in _inside(file, lists, "pdta")}
        sound = sum(found.size for found in _inside(file, lists, "sdta") if found.name == "smpl")
        return {table: _records(file, parts, table) for table in _RECORDS}, sound
    except ChunkError as error:
        raise _damaged(name, str(error)) from error


def _whole(file: BinaryIO, size: int) -> Iterator[Chunk]:
    """The file's own chunks."""
    try:
        whole = read_chunk(file, 0, size)
    except ChunkError as error:
        raise ChunkError(f"it is cut short, only {size:,} bytes are there") from error
    yield from iterate_chunks(file, whole.start + 4, whole.end)


def _kind(file: BinaryIO, found: Chunk) -> str:
    file.seek(found.start)
    return file.read(4).decode("latin-1") if found.name == "LIST" else found.name


def _inside(file: BinaryIO, lists: Mapping[str, Chunk], kind: str) -> Iterator[Chunk]:
    if kind not in lists:
        raise ChunkError(f'the part "{kind}" is missing')
    return iterate_chunks(file, lists[kind].start + 4, lists[kind].end)


def _records(file: BinaryIO, parts: Mapping[str, Chunk], table: str) -> Table:
    """A table's records, the closing one included."""
    kind = np.dtype(_RECORDS[table])
    if table not in parts:
        raise ChunkError(f'the table "{table}" is missing')
    found = parts[table]
    if found.size % kind.itemsize or not found.size or found.size > _LARGEST_TABLES:
        raise ChunkError(f'the table "{table}" has {found.size:,} bytes, {kind.itemsize} a row')
    file.seek(found.start)
    return np.frombuffer(file.read(found.size), kind)


def _damaged(name: str, what: str) -> SoundsError:
    return SoundsError(f'"{name}" is a damaged SoundFont: {what}; copy it anew.')


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reader:
    """Zones out of checked tables."""

    tables: Mapping[str, Table]
    sound_bytes: int

    def preset(self, number: int) -> Preset:
        head = self.tables["phdr"][number]
        zones: list[Zone] = []
        for generators in self._zones("phdr", number, _INSTRUMENT):
            zones += self._instrument(generators[_INSTRUMENT], generators)
        name = bytes(head["name"]).split(b"\0")[0].decode("latin-1")
        return Preset(
            bank=int(head["bank"]),
            program=int(head["program"]),
            name=name,
            zones=tuple(zones),
            compressed=bool(np.any(self.tables["shdr"]["type"] & _COMPRESSED)),
        )

    def _instrument(self, number: int, around: Mapping[int, int]) -> Iterator[Zone]:
        for generators in self._zones("inst", number, _SAMPLE):
            keys = _both(_range(generators, _KEYS), _range(around, _KEYS))
            velocities = _both(_range(generators, _VELOCITIES), _range(around, _VELOCITIES))
            velocities = (max(1, velocities[0]), velocities[1])
            sample = generators[_SAMPLE]
            if keys[0] <= keys[1] and velocities[0] <= velocities[1] and self._sounds(sample):
                exclusive = generators.get(_EXCLUSIVE, 0)
                yield Zone(keys=keys, velocities=velocities, exclusive=exclusive, sample=sample)

    def _zones(self, table: str, number: int, target: int) -> Iterator[dict[int, int]]:
        """What each zone of a preset or instrument says; a first one without a target speaks for all."""
        bags, generators = ("pbag", "pgen") if table == "phdr" else ("ibag", "igen")
        first, end = (int(self.tables[table][at]["first"]) for at in (number, number + 1))
        common: dict[int, int] = {}
        for bag in range(first, end):
            low, high = (int(self.tables[bags][at]["first"]) for at in (bag, bag + 1))
            said = {int(row["what"]): int(row["amount"]) for row in self.tables[generators][low:high]}
            if target in said:
                yield common | said
            elif bag == first:
                common = said

    def _sounds(self, number: int) -> bool:
        """Whether a sample is there: inside the file, and not in the memory of some instrument."""
        row = self.tables["shdr"][number]
        kind, start, end = int(row["type"]), int(row["start"]), int(row["end"])
        unit = 1 if kind & _COMPRESSED else 2
        return not kind & _IN_ROM and start < end and end * unit <= self.sound_bytes


def _range(generators: Mapping[int, int], what: int) -> Range:
    """Low and high byte of an amount."""
    amount = generators.get(what)
    return _ALL if amount is None else (amount & 0xFF, min(127, amount >> 8))


def _both(one: Range, other: Range) -> Range:
    return max(one[0], other[0]), min(one[1], other[1])
