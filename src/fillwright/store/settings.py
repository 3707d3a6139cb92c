"""A teacher's settings: criteria, pages, sounds; and figures, grooves and kits of their own."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import delete, insert, select

from fillwright.errors import LessonFileError, NotThereError, StoreError
from fillwright.music.rudiments import plain
from fillwright.store.criteria import Criteria
from fillwright.store.desk import Desk
from fillwright.store.schema import own, setting
from fillwright.tables.kits_and_grooves import OwnTables, read_own

KINDS = ("figure", "groove", "kit")
_LONGEST_TEXT = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """Something of a teacher's own, written as a lesson file has it.

    Attributes:
        kind: "figure", "groove" or "kit".
        name: that the teacher gave it.
        text: the table of a groove or kit; of a figure its sticking, " / ", its rhythm.
    """

    kind: str
    name: str
    text: str


def settings(desk: Desk) -> dict[str, Any]:
    """Every setting of the teacher that is not as we deliver it."""
    rows = desk.rows(select(setting).where(setting.c.teacher_id == desk.teacher))
    return {row.name: row.value for row in rows}


def keep_setting(desk: Desk, name: str, value: Any) -> None:
    """Keep a setting, in the place of the one before."""
    mine = (setting.c.teacher_id == desk.teacher, setting.c.name == name)
    desk.connection.execute(delete(setting).where(*mine))
    desk.connection.execute(insert(setting).values(teacher_id=desk.teacher, name=name, value=value))


def criteria(desk: Desk) -> Criteria:
    """What the teacher asks of a take."""
    return Criteria(**settings(desk).get("criteria", {}))


def keep_criteria(desk: Desk, asked: Criteria) -> None:
    """Keep what the teacher asks of a take."""
    keep_setting(desk, "criteria", asdict(asked))


def keep_own(desk: Desk, one: Own, *, instead_of: str = "") -> None:
    """Keep a figure, groove or kit.

    Args:
        desk: the teacher's.
        one: what is kept.
        instead_of: name of the one that it takes the place of; "" for a new one.

    Raises:
        StoreError: for another kind, a name or a text of the wrong length, a name that another has.
    """
    if one.kind not in KINDS:
        raise StoreError(f"\"{one.kind}\" can't be kept; a teacher's own are: {', '.join(KINDS)}.")
    if not 0 < len(one.name) <= 80:
        raise StoreError(f"A name of {len(one.name)} characters can't be kept; write 1 to 80.")
    if not 0 < len(one.text) <= _LONGEST_TEXT:
        raise StoreError(f"A text of {len(one.text):,} characters can't be kept; write 1 to {_LONGEST_TEXT:,}.")
    forget_own(desk, one.kind, instead_of)
    if any(plain(other.name) == plain(one.name) for other in all_own(desk, one.kind)):
        raise StoreError(f'You have a {one.kind} called "{one.name}"; change that one, or find another name.')
    values = {"teacher_id": desk.teacher, "kind": one.kind, "name": one.name, "text": one.text}
    desk.connection.execute(insert(own).values(**values))


def one_own(desk: Desk, kind: str, name: str) -> Own:
    """A figure, groove or kit by its name.

    Raises:
        NotThereError: where the teacher has none of that name.
    """
    found = next((one for one in all_own(desk, kind) if one.name == name), None)
    if found is None:
        raise NotThereError(f"You have no {kind} of that name.")
    return found


def forget_own(desk: Desk, kind: str, name: str) -> None:
    """Forget a figure, groove or kit; nothing happens where there is none of that name."""
    mine = (own.c.teacher_id == desk.teacher, own.c.kind == kind, own.c.name == name)
    desk.connection.execute(delete(own).where(*mine))


def all_own(desk: Desk, kind: str) -> tuple[Own, ...]:
    """Everything of a kind that is the teacher's own, by name."""
    query = select(own).where(own.c.teacher_id == desk.teacher, own.c.kind == kind).order_by(own.c.name)
    return tuple(Own(kind=row.kind, name=row.name, text=row.text) for row in desk.rows(query))


def own_tables(desk: Desk) -> OwnTables:
    """The grooves and kits of the teacher's own.

    One that can't be read is passed over: a later version may have one of its own by the same name.
    """
    found = OwnTables()
    for one in (*all_own(desk, "groove"), *all_own(desk, "kit")):
        with suppress(LessonFileError):
            found = found.beside(read_own(one.text, one.name))
    return found
