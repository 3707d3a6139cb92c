"""A teacher's settings: criteria, pages, sounds; and figures, grooves and kits of their own."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import delete, insert, select

from fillwright.errors import NotThereError, StoreError, TableError
from fillwright.music.rudiments import normalize_name
from fillwright.store.criteria import Criteria
from fillwright.store.schema import own_item, setting
from fillwright.store.transaction import Transaction
from fillwright.tables.kits_and_grooves import OwnTables, parse_own_tables

KINDS = ("figure", "groove", "kit")
"""Kinds of things that a teacher can add."""

_LONGEST_NAME = 80
"""Characters of a name, as the table has room for."""

_LONGEST_TEXT = 20_000
"""Characters of a table; a groove of five lines has about 300. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnItem:
    """A figure, groove or kit that a teacher added.

    Attributes:
        kind: "figure", "groove" or "kit".
        name: that the teacher gave it.
        text: table of a groove or kit, as in a lesson file; for a figure its sticking, " / " and its rhythm.
    """

    kind: str
    name: str
    text: str


def read_settings(transaction: Transaction) -> dict[str, Any]:
    """Return every setting that the teacher has changed, by name."""
    rows = transaction.fetch_all(select(setting).where(setting.c.teacher_id == transaction.teacher))
    return {row.name: row.value for row in rows}


def save_setting(transaction: Transaction, name: str, value: Any) -> None:
    """Save a setting, replacing its earlier value."""
    conditions = (setting.c.teacher_id == transaction.teacher, setting.c.name == name)
    transaction.connection.execute(delete(setting).where(*conditions))
    transaction.connection.execute(
        insert(setting).values(teacher_id=transaction.teacher, name=name, value=value)
    )


def read_criteria(transaction: Transaction) -> Criteria:
    """Return the teacher's criteria for a pass."""
    return Criteria(**read_settings(transaction).get("criteria", {}))


def save_criteria(transaction: Transaction, criteria: Criteria) -> None:
    """Save the teacher's criteria for a pass."""
    save_setting(transaction, "criteria", asdict(criteria))


def save_own(transaction: Transaction, item: OwnItem, *, replaces: str = "") -> None:
    """Save a figure, groove or kit.

    Args:
        transaction: of the teacher.
        item: to save.
        replaces: name of the item that it replaces; "" for a new one.

    Raises:
        StoreError: for an unknown kind, a name or a text of the wrong length, or a name that another item has.
    """
    if item.kind not in KINDS:
        raise StoreError(f'"{item.kind}" is not a kind of thing to add; use one of: {", ".join(KINDS)}.')
    if not 0 < len(item.name) <= _LONGEST_NAME:
        raise StoreError(f"The name has {len(item.name)} characters; write 1 to {_LONGEST_NAME}.")
    if not 0 < len(item.text) <= _LONGEST_TEXT:
        raise StoreError(f"The text has {len(item.text):,} characters; write 1 to {_LONGEST_TEXT:,}.")
    delete_own(transaction, item.kind, replaces)
    if any(
        normalize_name(other.name) == normalize_name(item.name) for other in list_own(transaction, item.kind)
    ):
        raise StoreError(
            f'You already have a {item.kind} called "{item.name}". Edit it, or choose another name.'
        )
    values = {"teacher_id": transaction.teacher, "kind": item.kind, "name": item.name, "text": item.text}
    transaction.connection.execute(insert(own_item).values(**values))


def get_own(transaction: Transaction, kind: str, name: str) -> OwnItem:
    """Return a figure, groove or kit by its name.

    Raises:
        NotThereError: if the teacher has none of that name.
    """
    item = next((item for item in list_own(transaction, kind) if item.name == name), None)
    if item is None:
        raise NotThereError(f"You have no {kind} of that name.")
    return item


def delete_own(transaction: Transaction, kind: str, name: str) -> None:
    """Delete a figure, groove or kit; do nothing if there is none of that name."""
    conditions = (
        own_item.c.teacher_id == transaction.teacher,
        own_item.c.kind == kind,
        own_item.c.name == name,
    )
    transaction.connection.execute(delete(own_item).where(*conditions))


def list_own(transaction: Transaction, kind: str) -> tuple[OwnItem, ...]:
    """List the teacher's own items of a kind, by name."""
    query = (
        select(own_item)
        .where(own_item.c.teacher_id == transaction.teacher, own_item.c.kind == kind)
        .order_by(own_item.c.name)
    )
    return tuple(OwnItem(kind=row.kind, name=row.name, text=row.text) for row in transaction.fetch_all(query))


def read_own_tables(transaction: Transaction) -> OwnTables:
    """Return the teacher's own grooves and kits.

    One that can't be read is skipped: a later version of Fillwright may come with one of the same name.
    """
    tables = OwnTables()
    for item in (*list_own(transaction, "groove"), *list_own(transaction, "kit")):
        with suppress(TableError):
            tables = tables.merge(parse_own_tables(item.text, item.name))
    return tables
