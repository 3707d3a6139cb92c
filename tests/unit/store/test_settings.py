"""Figures, grooves and kits of a teacher's own: kept by name, read as a lesson file has them, nobody else's."""

from __future__ import annotations

import pytest

from fillwright.errors import NotThereError, StoreError
from fillwright.store.database import add_row
from fillwright.store.schema import teacher
from fillwright.store.settings import OwnItem, delete_own, get_own, list_own, read_own_tables, save_own
from fillwright.tables.kits_and_grooves import format_groove, format_kit

GROOVE = OwnItem(
    kind="groove", name="two step", text=format_groove("two step", "4/4", [{"surface": "kick", "at": "1 3"}])
)
KIT = OwnItem(kind="kit", name="nook", text=format_kit("nook", "four-piece", ["crash"]))


@pytest.fixture
def kept(transactions):
    with transactions(write=True) as transaction:
        for one in (GROOVE, KIT, OwnItem(kind="figure", name="mine", text="R L / 16")):
            save_own(transaction, one)


def test_grooves_and_kits_are_read(transactions, kept):
    with transactions() as transaction:
        own = read_own_tables(transaction)
    assert [(one.name, len(one.hits)) for one in own.grooves] == [("two step", 2)]
    assert [(one.name, one.has("crash"), one.has("ride bow")) for one in own.kits] == [("nook", False, True)]


def test_another_teacher_does_not_see_or_forget_them(transactions, kept):
    with transactions(write=True) as transaction:
        other = add_row(transaction.connection, teacher, {"name": "Bo", "created": transaction.now})
    with transactions(write=True, of=other) as transaction:
        assert read_own_tables(transaction).grooves == read_own_tables(transaction).kits == ()
        delete_own(transaction, "kit", "nook")
        save_own(transaction, OwnItem(kind="groove", name="two step", text=GROOVE.text.replace("1 3", "1")))
    with transactions() as transaction:
        assert len(read_own_tables(transaction).kits) == 1
        assert list_own(transaction, "groove") == (GROOVE,)


def test_an_item_replaces_another_only_if_asked(transactions, kept):
    again = OwnItem(kind="groove", name="Two-Step", text=GROOVE.text.replace("two step", "Two-Step"))
    with (
        transactions(write=True) as transaction,
        pytest.raises(StoreError, match="You already have a groove called"),
    ):
        save_own(transaction, again)
    with transactions(write=True) as transaction:
        assert list_own(transaction, "groove") == (GROOVE,)
        save_own(transaction, again, replaces="two step")
        assert list_own(transaction, "groove") == (again,)
        assert list_own(transaction, "kit") == (KIT,)
        assert get_own(transaction, "groove", "Two-Step") == again
        delete_own(transaction, "groove", "Two-Step")
        assert list_own(transaction, "groove") == ()
    with transactions() as transaction, pytest.raises(NotThereError, match="You have no groove of that name"):
        get_own(transaction, "groove", "Two-Step")


def test_items_that_can_not_be_stored_is_refused(transactions):
    with transactions(write=True) as transaction:
        with pytest.raises(
            StoreError, match=r"song.* is not a kind of thing to add; use one of: figure, groove, kit"
        ):
            save_own(transaction, OwnItem(kind="song", name="x", text="x"))
        with pytest.raises(StoreError, match="The name has 81 characters"):
            save_own(transaction, OwnItem(kind="kit", name="x" * 81, text="x"))
        with pytest.raises(StoreError, match="The text has 20,001 characters"):
            save_own(transaction, OwnItem(kind="kit", name="x", text="x" * 20_001))


def test_a_text_that_can_not_be_read_is_skipped(transactions, kept):
    with transactions(write=True) as transaction:
        save_own(
            transaction, OwnItem(kind="kit", name="five-piece", text='[kits.five-piece]\nfrom = "four-piece"\n')
        )
    with transactions() as transaction:
        assert [one.name for one in read_own_tables(transaction).kits] == ["nook"]
