"""SoundFont 2 files: their presets, with the samples by MIDI note and velocity, checked for damage.

We read only the tables, the chunk "pdta" (SoundFont 2 specification, from memory); FluidSynth plays the
samples. Every index is checked against its table here, so that no damaged file reaches a library written in C.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt

from fillwright import budget
from fillwright.errors import SoundsError
from fillwright.sound.samples.riff import Chunk, ChunkError, iterate_chunks, read_chunk

# The records of each table, as numpy types, in the order of their fields; SoundFont 2 specification, from
# memory
_MODULATOR = [("source", "<u2"), ("generator", "<u2"), ("amount", "<i2"), ("by", "<u2"), ("transform", "<u2")]
_RECORDS: dict[str, list[tuple[str, str]]] = {
    "phdr": [
        ("name", "S20"), ("program", "<u2"), ("bank", "<u2"), ("first", "<u2"),
        ("library", "<u4"), ("genre", "<u4"), ("morphology", "<u4"),
    ],
    "pbag": [("first", "<u2"), ("modulators", "<u2")],
    "pmod": _MODULATOR,
    "pgen": [("generator", "<u2"), ("amount", "<u2")],
    "inst": [("name", "S20"), ("first", "<u2")],
    "ibag": [("first", "<u2"), ("modulators", "<u2")],
    "imod": _MODULATOR,
    "igen": [("generator", "<u2"), ("amount", "<u2")],
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
# Numbers of generators, then bits of a sample's type; SoundFont 2 specification, from memory
_INSTRUMENT, _KEYS, _VELOCITIES, _SAMPLE, _EXCLUSIVE = 41, 43, 44, 53, 57
_IN_ROM, _COMPRESSED = 0x8000, 0x10  # the second is an extension, of .sf3 files

Range = tuple[int, int]
"""Lowest and highest MIDI note or velocity."""

_ALL: Range = (0, 127)  # MIDI notes or velocities of a zone without limits


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """One sample on some MIDI notes and velocities of a preset.

    Attributes:
        keys: MIDI notes that play it.
        velocities: velocities that play it.
        exclusive: exclusive class: strokes of one class stop each other; 0 for none.
        sample: number of the sample.
    """

    keys: Range
    velocities: Range
    exclusive: int
    sample: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Preset:
    """A preset of a SoundFont.

    Attributes:
        bank: number of the bank, 128 for percussion.
        program: number in its bank, from 0.
        name: name in the file.
        zones: zones with sound.
        compressed: True if any sample of the file is compressed.
    """

    bank: int
    program: int
    name: str
    zones: tuple[Zone, ...]
    compressed: bool = False

    def list_layers(self, key: int) -> tuple[Range, ...]:
        """Return the velocity layers of a MIDI note, ascending: in one layer the same samples sound."""
        ranges = [zone.velocities for zone in self.zones if _within(key, zone.keys)]
        edges = sorted({low for low, _ in ranges} | {high + 1 for _, high in ranges})
        spans = [(low, following - 1) for low, following in pairwise(edges)]
        return tuple(span for span in spans if any(low <= span[0] and span[1] <= high for low, high in ranges))

    def find_exclusive_class(self, key: int) -> int:
        """Return the exclusive class of a MIDI note, 0 for none."""
        return max((zone.exclusive for zone in self.zones if _within(key, zone.keys)), default=0)


def _within(value: int, span: Range) -> bool:
    return span[0] <= value <= span[1]


def read_presets(path: Path) -> tuple[Preset, ...]:
    """Return every preset of a SoundFont, in the order of banks and programs.

    Raises:
        SoundsError: for a file that is not a SoundFont, is incomplete or has indexes outside of its tables.
        OSError: for a file that can't be read.
    """
    with path.open("rb") as file:
        tables, sound_bytes = _read_tables(file, path.name)
    _check_indexes(tables, path.name)
    reader = _Reader(name=path.name, tables=tables, sound_bytes=sound_bytes)
    presets = []
    zones = 0
    for number in range(len(tables["phdr"]) - 1):
        presets.append(reader.read_preset(number, budget.ZONES - zones))
        zones += len(presets[-1].zones)
    return tuple(sorted(presets, key=lambda preset: (preset.bank, preset.program)))


Table = npt.NDArray[Any]


def _check_indexes(tables: Mapping[str, Table], name: str) -> None:
    """Refuse tables with indexes outside of one another."""
    for table, column, pointed in _POINTS:
        indexes = tables[table][column].astype(np.int64)
        if np.any(np.diff(indexes) < 0) or indexes[-1] >= len(tables[pointed]):
            raise _make_damage_error(name, f'its table "{table}" has indexes outside of "{pointed}"')
    for table, generator, pointed in (("pgen", _INSTRUMENT, "inst"), ("igen", _SAMPLE, "shdr")):
        rows = tables[table]
        if np.any(rows["amount"][rows["generator"] == generator] >= len(tables[pointed]) - 1):
            raise _make_damage_error(name, f'its table "{table}" has indexes outside of "{pointed}"')


def _read_tables(file: BinaryIO, name: str) -> tuple[Mapping[str, Table], int]:
    """Return the tables of a file, and the number of bytes of its samples."""
    size = file.seek(0, 2)
    file.seek(0)
    start = file.read(12)
    if start[:4] != b"RIFF" or start[8:12] != b"sfbk":
        raise SoundsError(f'"{name}" is not a SoundFont, although its name says so; use a SoundFont 2 file.')
    try:
        lists = {_find_kind(file, chunk): chunk for chunk in _list_chunks(file, size)}
        parts = {chunk.name: chunk for chunk in _list_parts(file, lists, "pdta")}
        sound = sum(chunk.size for chunk in _list_parts(file, lists, "sdta") if chunk.name == "smpl")
        return {table: _read_records(file, parts, table) for table in _RECORDS}, sound
    except ChunkError as error:
        raise _make_damage_error(name, str(error)) from error


def _list_chunks(file: BinaryIO, size: int) -> Iterator[Chunk]:
    """Yield the top chunks of a file."""
    try:
        top = read_chunk(file, 0, size)
    except ChunkError as error:
        raise ChunkError(f"it is incomplete, with only {size:,} bytes") from error
    yield from iterate_chunks(file, top.start + 4, top.end)


def _find_kind(file: BinaryIO, chunk: Chunk) -> str:
    """Return the name of a chunk, or the kind of a list."""
    file.seek(chunk.start)
    return file.read(4).decode("latin-1") if chunk.name == "LIST" else chunk.name


def _list_parts(file: BinaryIO, lists: Mapping[str, Chunk], kind: str) -> Iterator[Chunk]:
    """Return the chunks inside a list of that kind."""
    if kind not in lists:
        raise ChunkError(f'the part "{kind}" is missing')
    return iterate_chunks(file, lists[kind].start + 4, lists[kind].end)


def _read_records(file: BinaryIO, parts: Mapping[str, Chunk], table: str) -> Table:
    """Return the records of a table, the terminal one included."""
    record = np.dtype(_RECORDS[table])
    if table not in parts:
        raise ChunkError(f'the table "{table}" is missing')
    chunk = parts[table]
    if chunk.size > budget.SOUNDFONT_TABLE_BYTES:
        most = budget.format_bytes(budget.SOUNDFONT_TABLE_BYTES)
        raise ChunkError(f'the table "{table}" has {chunk.size:,} bytes, and at most {most} are accepted')
    if chunk.size % record.itemsize or not chunk.size:
        raise ChunkError(f'the table "{table}" has an invalid size of {chunk.size:,} bytes')
    file.seek(chunk.start)
    return np.frombuffer(file.read(chunk.size), record)


def _make_damage_error(name: str, damage: str) -> SoundsError:
    return SoundsError(f'"{name}" is a damaged SoundFont: {damage}; copy the file again.')


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reader:
    """Reader of presets from checked tables."""

    name: str
    tables: Mapping[str, Table]
    sound_bytes: int

    def read_preset(self, number: int, most: int) -> Preset:
        """Return a preset by its row in the table "phdr".

        Raises:
            SoundsError: for one of more than `most` zones, which a small file can ask for by naming one
                instrument thousands of times.
        """
        head = self.tables["phdr"][number]
        zones: list[Zone] = []
        for generators in self._read_zones("phdr", number, _INSTRUMENT):
            for zone in self._read_instrument(generators[_INSTRUMENT], generators):
                zones.append(zone)
                if len(zones) > most:
                    raise SoundsError(
                        f'"{self.name}" has more than {budget.ZONES:,} zones, the most that is accepted; use a '
                        "SoundFont of drums alone."
                    )
        name = bytes(head["name"]).split(b"\0")[0].decode("latin-1")
        return Preset(
            bank=int(head["bank"]),
            program=int(head["program"]),
            name=name,
            zones=tuple(zones),
            compressed=bool(np.any(self.tables["shdr"]["type"] & _COMPRESSED)),
        )

    def _read_instrument(self, number: int, outer: Mapping[int, int]) -> Iterator[Zone]:
        """Yield the zones of an instrument that have sound, limited by the zone of the preset round it."""
        for generators in self._read_zones("inst", number, _SAMPLE):
            keys = _intersect(_get_range(generators, _KEYS), _get_range(outer, _KEYS))
            velocities = _intersect(_get_range(generators, _VELOCITIES), _get_range(outer, _VELOCITIES))
            velocities = (max(1, velocities[0]), velocities[1])
            sample = generators[_SAMPLE]
            if keys[0] <= keys[1] and velocities[0] <= velocities[1] and self._has_sample(sample):
                exclusive = generators.get(_EXCLUSIVE, 0)
                yield Zone(keys=keys, velocities=velocities, exclusive=exclusive, sample=sample)

    def _read_zones(self, table: str, number: int, target: int) -> Iterator[dict[int, int]]:
        """Yield the generators of each zone; those of a first zone without a target apply to all zones."""
        bags, generators = ("pbag", "pgen") if table == "phdr" else ("ibag", "igen")
        first, end = (int(self.tables[table][at]["first"]) for at in (number, number + 1))
        common: dict[int, int] = {}
        for bag in range(first, end):
            low, high = (int(self.tables[bags][at]["first"]) for at in (bag, bag + 1))
            zone = {int(row["generator"]): int(row["amount"]) for row in self.tables[generators][low:high]}
            if target in zone:
                yield common | zone
            elif bag == first:
                common = zone

    def _has_sample(self, number: int) -> bool:
        """Return True if a sample is in the file, not in the memory of an instrument."""
        row = self.tables["shdr"][number]
        kind, start, end = int(row["type"]), int(row["start"]), int(row["end"])
        unit = 1 if kind & _COMPRESSED else 2
        return not kind & _IN_ROM and start < end and end * unit <= self.sound_bytes


def _get_range(generators: Mapping[int, int], number: int) -> Range:
    """Return a generator's range: the low and the high byte of its amount."""
    amount = generators.get(number)
    return _ALL if amount is None else (amount & 0xFF, min(127, amount >> 8))


def _intersect(span: Range, other: Range) -> Range:
    return max(span[0], other[0]), min(span[1], other[1])
