"""A teacher's own grooves and kits in a lesson file: from [grooves."name"] and [kits."name"] to values."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, TypeVar

from fillwright.craft.player.kits import Kit, find_kit, load_kits, read_kit
from fillwright.errors import FillwrightError, FitError, UnknownNameError
from fillwright.music.grooves import Groove, find_groove, load_grooves, read_groove, read_line
from fillwright.music.meter import find_meter
from fillwright.music.rudiments import normalize_name
from fillwright.tables.blocks import quote
from fillwright.tables.keys import read_keys
from fillwright.tables.kit_and_groove_keys import GROOVE_KEYS, KIT_KEYS, LINE_KEYS, SPOT_KEYS, USUAL_TEMPO
from fillwright.tables.lesson_keys import LESSON_FILE
from fillwright.tables.mistakes import Mistakes
from fillwright.tables.outline import KeyPath
from fillwright.tables.toml_source import parse_toml
from fillwright.tables.values import Key, RejectedValueError, accept_text, describe_value, shorten

MOST_TABLES = 20  # grooves, and kits, of a teacher's own in one lesson; ours

Item = TypeVar("Item", Groove, Kit)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnTables:
    """A teacher's own grooves and kits in one text.

    Attributes:
        grooves: in the order of the text.
        kits: in the order of the text.
        spoilt: kind and normalized name of those that can't be read.
    """

    grooves: tuple[Groove, ...] = ()
    kits: tuple[Kit, ...] = ()
    spoilt: frozenset[tuple[str, str]] = frozenset()

    def merge(self, other: OwnTables) -> OwnTables:
        """Return these and those of other tables; of two with one name, this one is kept."""
        return OwnTables(
            grooves=(*self.grooves, *_skip_names(other.grooves, self.grooves)),
            kits=(*self.kits, *_skip_names(other.kits, self.kits)),
        )

    def extend_keys(self, keys: Sequence[Key]) -> tuple[Key, ...]:
        """Return the keys of a lesson or a figure, so that its grooves and kits may be the teacher's own."""
        reads = {"groove": self._find_groove, "kit": self._find_kit}
        return tuple(replace(key, read=reads[key.name]) if key.name in reads else key for key in keys)

    def _find_groove(self, value: object) -> Groove:
        return find_groove(self._check_name("groove", value), self.grooves)

    def _find_kit(self, value: object) -> Kit:
        return find_kit(self._check_name("kit", value), self.kits)

    def _check_name(self, kind: str, value: object) -> str:
        name = str(accept_text(80)(value))
        if (kind, normalize_name(name)) in self.spoilt:
            raise UnknownNameError(f'The {kind} "{shorten(name)}" can\'t be read; fix its table first.')
        return name


def _skip_names(items: Sequence[Item], taken: Sequence[Item]) -> Iterator[Item]:
    names = {normalize_name(item.name) for item in taken}
    return (item for item in items if normalize_name(item.name) not in names)


def collect_own_tables(table: Mapping[str, Any], mistakes: Mistakes) -> OwnTables:
    """Read the grooves and kits of a lesson file.

    Args:
        table: the whole file, as TOML gives it.
        mistakes: is added to.
    """
    spoilt_grooves, grooves = _read_all(table, "groove", _read_groove_table, mistakes)
    spoilt_kits, kits = _read_all(table, "kit", _read_kit_table, mistakes)
    return OwnTables(grooves=grooves, kits=kits, spoilt=frozenset({*spoilt_grooves, *spoilt_kits}))


def parse_own_tables(written: str, name: str) -> OwnTables:
    """Parse the grooves and kits of a text that holds nothing else.

    Args:
        written: tables as a lesson file has them.
        name: of the text, as mistakes show it.

    Raises:
        TableError: for its mistakes.
    """
    table, places = parse_toml(written, name, LESSON_FILE)
    mistakes = Mistakes(name=name, places=places, kind=LESSON_FILE)
    own_tables = collect_own_tables(table, mistakes)
    mistakes.raise_any()
    return own_tables


def make_groove(name: str, row: Mapping[str, Any]) -> Groove:
    """Make a groove of a teacher's own.

    Args:
        name: must not be the name of one of ours.
        row: meter, tempo and lines, as `grooves.toml` has them; the tempo may be missing.

    Raises:
        RejectedValueError, UnknownNameError: for a name that can't be used, an unknown meter, surface or hand.
        CountError: for a place that can't be read.
        FitError: for no line, and where strokes can't be played or written together.
    """
    if not row["lines"]:
        raise FitError("This groove is empty; write a line for each hand and foot on a surface.")
    return read_groove({"tempo": USUAL_TEMPO, **row, "name": check_own_name(name, "groove")})


def make_kit(name: str, row: Mapping[str, Any]) -> Kit:
    """Make a kit of a teacher's own.

    Args:
        name: must not be the name of one of ours.
        row: the kit it is based on, surfaces left out and added; each may be missing.

    Raises:
        RejectedValueError, UnknownNameError: for a name that can't be used, an unknown surface or kit.
        FitError: for a kit on which nothing can be taught.
    """
    return read_kit(check_own_name(name, "kit"), row, row.get("from"))


def _list_our_names(kind: str) -> frozenset[str]:
    """Return the normalized names of our own grooves or kits."""
    names = load_kits() if kind == "kit" else [groove.name for groove in load_grooves()]
    return frozenset(map(normalize_name, names))


def check_own_name(name: str, kind: str) -> str:
    """Check the name that a teacher gives to a groove or a kit, and return it with its spaces folded.

    Raises:
        RejectedValueError: for an empty or long name, or one that can't be printed.
        UnknownNameError: for one of ours.
    """
    try:
        read = str(accept_text(80)(name))
    except RejectedValueError as rejected:
        raise RejectedValueError(f"Found {rejected} for a name; write 1 to 80 characters.") from rejected
    if not normalize_name(read):
        raise RejectedValueError(f"Found {describe_value(read)} for a name; write one with letters or digits.")
    if normalize_name(read) in _list_our_names(kind):
        raise UnknownNameError(f'"{read}" is a {kind} already; choose another name.')
    return read


_Reader = Callable[[str, Mapping[str, Any], KeyPath, Mistakes], Item | None]


def _read_all(
    table: Mapping[str, Any], kind: str, read: _Reader[Item], mistakes: Mistakes
) -> tuple[set[tuple[str, str]], tuple[Item, ...]]:
    """Read the tables of a kind; return kind and name of those that can't be read, and the others as values."""
    items: dict[str, Item | None] = {}
    for name, row, path in _list_tables(table, kind, mistakes):
        if mistakes.full:
            break
        if normalize_name(name) in items:
            mistakes.add(
                path, f'There are two of this name; call one of them something other than "{shorten(name)}".'
            )
            continue
        items[normalize_name(name)] = read(name, row, path, mistakes)
    spoilt = {
        (kind, name) for name, item in items.items() if item is None and name not in _list_our_names(kind)
    }
    return spoilt, tuple(filter(None, items.values()))


def _list_tables(
    table: Mapping[str, Any], kind: str, mistakes: Mistakes
) -> Iterator[tuple[str, Mapping[str, Any], KeyPath]]:
    """Yield every table of a kind with its name and place."""
    key = f"{kind}s"
    write_so = f'write [{key}."a name of your own"] above each {kind}, its keys below'
    tables = table.get(key, {})
    if not isinstance(tables, dict):
        mistakes.add((key,), f"Found {describe_value(tables)}; {write_so}.")
        return
    if len(tables) > MOST_TABLES:
        message = f"There are {len(tables)} {key}; a lesson has at most {MOST_TABLES} of its own."
        mistakes.add((key, [*tables][MOST_TABLES]), message)
    for name, row in [*tables.items()][:MOST_TABLES]:
        if isinstance(row, dict):
            yield name, row, (key, name)
        else:
            mistakes.add((key, name), f"Found {describe_value(row)}; {write_so}.")


def _read_groove_table(name: str, table: Mapping[str, Any], path: KeyPath, mistakes: Mistakes) -> Groove | None:
    before = mistakes.count
    row = read_keys(table, GROOVE_KEYS, path, mistakes)
    row["lines"] = _read_inner(row.get("lines", ()), LINE_KEYS, (*path, "lines"), mistakes)
    for index, line in enumerate(row["lines"]):
        if line and "meter" in row:
            _collect_error(
                partial(read_line, line, find_meter(row["meter"])), (*path, "lines", index), mistakes
            )
    if mistakes.count > before:
        return None
    return _collect_error(partial(make_groove, name, row), path, mistakes)


def _read_kit_table(name: str, table: Mapping[str, Any], path: KeyPath, mistakes: Mistakes) -> Kit | None:
    before = mistakes.count
    row = read_keys(table, KIT_KEYS, path, mistakes)
    row["surfaces"] = _read_inner(row.get("surfaces", ()), SPOT_KEYS, (*path, "surfaces"), mistakes)
    if mistakes.count > before:
        return None
    return _collect_error(partial(make_kit, name, row), path, mistakes)


def _read_inner(
    rows: Sequence[Mapping[str, Any]], keys: Sequence[Key], path: KeyPath, mistakes: Mistakes
) -> list[dict[str, Any]]:
    """Read the tables inside a table, without missing keys; one with a mistake gives an empty one."""
    read: list[dict[str, Any]] = []
    for index, row in enumerate(rows):
        before = mistakes.count
        values = read_keys(row, keys, (*path, index), mistakes)
        valid = mistakes.count == before
        read.append({name: value for name, value in values.items() if value is not None} if valid else {})
    return read


Value = TypeVar("Value")


def _collect_error(make: Callable[[], Value], path: KeyPath, mistakes: Mistakes) -> Value | None:
    try:
        return make()
    except FillwrightError as error:
        mistakes.add_error(path, error)
    return None


def format_groove(name: str, meter: str, lines: Sequence[Mapping[str, str]]) -> str:
    """Write a groove as a lesson file has it.

    Args:
        name: of the groove.
        meter: its name.
        lines: surface, hand (none for feet) and places of each.
    """
    rows = (", ".join(f"{key} = {quote(value)}" for key, value in line.items()) for line in lines)
    written = "".join(f"    {{ {row} }},\n" for row in rows)
    return f"[grooves.{quote(name)}]\nmeter = {quote(meter)}\nlines = [\n{written}]\n"


def format_kit(name: str, base: str, without: Sequence[str]) -> str:
    """Write a kit as a lesson file has it.

    Args:
        name: of the kit.
        base: name of the kit that it is based on.
        without: names of the surfaces left out.
    """
    omitted = f"without = [{', '.join(map(quote, without))}]\n" if without else ""
    return f"[kits.{quote(name)}]\nfrom = {quote(base)}\n{omitted}"
