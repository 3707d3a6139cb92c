"""Grooves and kits of a teacher's own in a lesson file: from [grooves."name"] and [kits."name"] to values."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, TypeVar

from fillwright.craft.player.kits import Kit, find_kit, kits, read_kit
from fillwright.errors import FillwrightError, FitError, UnknownNameError
from fillwright.music.grooves import Groove, find_groove, grooves, read_groove, read_line
from fillwright.music.meter import meter
from fillwright.music.rudiments import plain
from fillwright.tables.blocks import quoted
from fillwright.tables.keys import Key, UnfitError, described, shown, text
from fillwright.tables.kit_and_groove_keys import GROOVE_KEYS, KIT_KEYS, LINE_KEYS, SPOT_KEYS, USUAL_TEMPO
from fillwright.tables.lines import Path
from fillwright.tables.mistakes import Mistakes, read_keys
from fillwright.tables.toml_source import parse_toml

MOST_TABLES = 20
"""Grooves, and kits, of a teacher's own in one lesson."""

One = TypeVar("One", Groove, Kit)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTables:
    """The grooves and kits of a teacher's own in one text.

    Attributes:
        grooves: in the order of the text.
        kits: likewise.
        spoilt: kind and name, as it is looked up, of those that can't be read.
    """

    grooves: tuple[Groove, ...] = ()
    kits: tuple[Kit, ...] = ()
    spoilt: frozenset[tuple[str, str]] = frozenset()

    def beside(self, others: OwnTables) -> OwnTables:
        """These and some others; where both have one of a name, this one."""
        return OwnTables(
            grooves=(*self.grooves, *_others(others.grooves, self.grooves)),
            kits=(*self.kits, *_others(others.kits, self.kits)),
        )

    def reading(self, keys: Sequence[Key]) -> tuple[Key, ...]:
        """The keys of a lesson or of a figure, so that its grooves and kits may be the teacher's own."""
        reads = {"groove": self._groove, "kit": self._kit}
        return tuple(replace(key, read=reads[key.name]) if key.name in reads else key for key in keys)

    def _groove(self, value: object) -> Groove:
        return find_groove(self._whole("groove", value), self.grooves)

    def _kit(self, value: object) -> Kit:
        return find_kit(self._whole("kit", value), self.kits)

    def _whole(self, kind: str, value: object) -> str:
        name = str(text(80)(value))
        if (kind, plain(name)) in self.spoilt:
            raise UnknownNameError(f'The {kind} "{shown(name)}" can\'t be read; put its table right first.')
        return name


def _others(found: Sequence[One], than: Sequence[One]) -> Iterator[One]:
    names = {plain(one.name) for one in than}
    return (one for one in found if plain(one.name) not in names)


def own_tables(table: Mapping[str, Any], mistakes: Mistakes) -> OwnTables:
    """The grooves and kits of a file.

    Args:
        table: the whole file, as TOML gives it.
        mistakes: is added to.
    """
    no_grooves, found_grooves = _read_all(table, "groove", _groove, mistakes)
    no_kits, found_kits = _read_all(table, "kit", _kit, mistakes)
    return OwnTables(grooves=found_grooves, kits=found_kits, spoilt=frozenset({*no_grooves, *no_kits}))


def read_own(written: str, name: str) -> OwnTables:
    """The grooves and kits in a text that holds nothing else.

    Args:
        written: tables as a lesson file has them.
        name: of the text, as mistakes name it.

    Raises:
        LessonFileError: for its mistakes, as `lesson.file.parse_lesson` tells them.
    """
    table, places = parse_toml(written, name)
    mistakes = Mistakes(name=name, places=places)
    own = own_tables(table, mistakes)
    mistakes.raise_any()
    return own


def new_groove(name: str, row: Mapping[str, Any]) -> Groove:
    """A groove of a teacher's own.

    Args:
        name: none that one of ours has.
        row: meter, tempo and lines, as `grooves.toml` has them; the tempo may be missing.

    Raises:
        UnfitError, UnknownNameError: for a name that can't be given, a meter, surface or hand nobody knows.
        CountError: for a place that can't be read.
        FitError: for no line, and where strokes can't be played or written together.
    """
    if not row["lines"]:
        raise FitError("There is nothing in it; write a line for each hand and foot on a surface.")
    return read_groove({"tempo": USUAL_TEMPO, **row, "name": own_name(name, "groove")})


def new_kit(name: str, row: Mapping[str, Any]) -> Kit:
    """A kit of a teacher's own.

    Args:
        name: none that one of ours has.
        row: the kit it is made from, the names left out, surfaces added; all of it may be missing.

    Raises:
        UnfitError, UnknownNameError: for a name that can't be given, a surface or kit nobody knows.
        FitError: for a kit on which nothing can be taught.
    """
    return read_kit(own_name(name, "kit"), row, row.get("from"))


def _ours(kind: str) -> frozenset[str]:
    """The names of our own grooves or kits, as they are looked up."""
    names = kits() if kind == "kit" else [one.name for one in grooves()]
    return frozenset(map(plain, names))


def own_name(name: str, kind: str) -> str:
    """The name that a teacher gives to a groove or a kit.

    Raises:
        UnfitError: for no name, a long one, or one that can't be printed.
        UnknownNameError: for one of ours.
    """
    try:
        read = str(text(80)(name))
    except UnfitError as unfit:
        raise UnfitError(f"Found {unfit} for a name; write 1 to 80 characters.") from unfit
    if not plain(read):
        raise UnfitError(f"Found {described(read)} for a name; write one with letters or digits.")
    if plain(read) in _ours(kind):
        raise UnknownNameError(f'"{read}" is a {kind} already; find a name of your own.')
    return read


_Reader = Callable[[str, Mapping[str, Any], Path, Mistakes], One | None]


def _read_all(
    table: Mapping[str, Any], kind: str, read: _Reader[One], mistakes: Mistakes
) -> tuple[set[tuple[str, str]], tuple[One, ...]]:
    """Kind and name of the tables that can't be read, and what the others give."""
    made: dict[str, One | None] = {}
    for name, row, path in _rows(table, kind, mistakes):
        if mistakes.full:
            break
        if plain(name) in made:
            mistakes.add(
                path, f'There are two of this name; call one of them something else than "{shown(name)}".'
            )
            continue
        made[plain(name)] = read(name, row, path, mistakes)
    spoilt = {(kind, name) for name, one in made.items() if one is None and name not in _ours(kind)}
    return spoilt, tuple(filter(None, made.values()))


def _rows(
    table: Mapping[str, Any], kind: str, mistakes: Mistakes
) -> Iterator[tuple[str, Mapping[str, Any], Path]]:
    """Every table of a kind with its name and place."""
    key = f"{kind}s"
    write_so = f'write [{key}."a name of your own"] above each {kind}, its keys below'
    tables = table.get(key, {})
    if not isinstance(tables, dict):
        mistakes.add((key,), f"Found {described(tables)}; {write_so}.")
        return
    if len(tables) > MOST_TABLES:
        found = f"There are {len(tables)} {key}; a lesson has at most {MOST_TABLES} of its own."
        mistakes.add((key, [*tables][MOST_TABLES]), found)
    for name, row in [*tables.items()][:MOST_TABLES]:
        if isinstance(row, dict):
            yield name, row, (key, name)
        else:
            mistakes.add((key, name), f"Found {described(row)}; {write_so}.")


def _groove(name: str, table: Mapping[str, Any], path: Path, mistakes: Mistakes) -> Groove | None:
    before = mistakes.count
    row = read_keys(table, GROOVE_KEYS, path, mistakes)
    row["lines"] = _inner(row.get("lines", ()), LINE_KEYS, (*path, "lines"), mistakes)
    for index, line in enumerate(row["lines"]):
        if line and "meter" in row:
            _tried(partial(read_line, line, meter(row["meter"])), (*path, "lines", index), mistakes)
    if mistakes.count > before:
        return None
    return _tried(partial(new_groove, name, row), path, mistakes)


def _kit(name: str, table: Mapping[str, Any], path: Path, mistakes: Mistakes) -> Kit | None:
    before = mistakes.count
    row = read_keys(table, KIT_KEYS, path, mistakes)
    row["surfaces"] = _inner(row.get("surfaces", ()), SPOT_KEYS, (*path, "surfaces"), mistakes)
    if mistakes.count > before:
        return None
    return _tried(partial(new_kit, name, row), path, mistakes)


def _inner(
    rows: Sequence[Mapping[str, Any]], keys: Sequence[Key], path: Path, mistakes: Mistakes
) -> list[dict[str, Any]]:
    """Tables in a table, keys that are left out left out; empty where something is wrong with one."""
    read: list[dict[str, Any]] = []
    for index, row in enumerate(rows):
        before = mistakes.count
        values = read_keys(row, keys, (*path, index), mistakes)
        good = mistakes.count == before
        read.append({name: value for name, value in values.items() if value is not None} if good else {})
    return read


Tried = TypeVar("Tried")


def _tried(make: Callable[[], Tried], path: Path, mistakes: Mistakes) -> Tried | None:
    try:
        return make()
    except FillwrightError as error:
        mistakes.add(path, str(error))
    return None


def groove_text(name: str, where: str, lines: Sequence[Mapping[str, str]]) -> str:
    """A groove as a lesson file has it.

    Args:
        name: of the groove.
        where: name of its meter.
        lines: surface, hand (none for feet) and places of each.
    """
    rows = (", ".join(f"{key} = {quoted(value)}" for key, value in line.items()) for line in lines)
    written = "".join(f"    {{ {row} }},\n" for row in rows)
    return f"[grooves.{quoted(name)}]\nmeter = {quoted(where)}\nlines = [\n{written}]\n"


def kit_text(name: str, base: str, without: Sequence[str]) -> str:
    """A kit as a lesson file has it.

    Args:
        name: of the kit.
        base: name of the kit that it is made from.
        without: names of the surfaces left out.
    """
    left_out = f"without = [{', '.join(map(quoted, without))}]\n" if without else ""
    return f"[kits.{quoted(name)}]\nfrom = {quoted(base)}\n{left_out}"
