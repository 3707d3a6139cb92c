"""Figures, grooves and kits of a teacher's own: kept by name, read as a lesson file has them, nobody else's."""

from __future__ import annotations

import pytest

from fillwright.errors import NotThereError, StoreError
from fillwright.store.database import added
from fillwright.store.schema import teacher
from fillwright.store.settings import Own, all_own, forget_own, keep_own, one_own, own_tables
from fillwright.tables.kits_and_grooves import groove_text, kit_text

GROOVE = Own(
    kind="groove", name="two step", text=groove_text("two step", "4/4", [{"surface": "kick", "at": "1 3"}])
)
KIT = Own(kind="kit", name="nook", text=kit_text("nook", "four-piece", ["crash"]))


@pytest.fixture
def kept(desks):
    with desks(write=True) as desk:
        for one in (GROOVE, KIT, Own(kind="figure", name="mine", text="R L / 16")):
            keep_own(desk, one)


def test_grooves_and_kits_are_read(desks, kept):
    with desks() as desk:
        own = own_tables(desk)
    assert [(one.name, len(one.hits)) for one in own.grooves] == [("two step", 2)]
    assert [(one.name, one.has("crash"), one.has("ride bow")) for one in own.kits] == [("nook", False, True)]


def test_another_teacher_does_not_see_or_forget_them(desks, kept):
    with desks(write=True) as desk:
        other = added(desk.connection, teacher, {"name": "Bo", "created": desk.now})
    with desks(write=True, of=other) as desk:
        assert own_tables(desk).grooves == own_tables(desk).kits == ()
        forget_own(desk, "kit", "nook")
        keep_own(desk, Own(kind="groove", name="two step", text=GROOVE.text.replace("1 3", "1")))
    with desks() as desk:
        assert len(own_tables(desk).kits) == 1
        assert all_own(desk, "groove") == (GROOVE,)


def test_one_takes_the_place_of_another_only_where_that_is_said(desks, kept):
    again = Own(kind="groove", name="Two-Step", text=GROOVE.text.replace("two step", "Two-Step"))
    with desks(write=True) as desk, pytest.raises(StoreError, match="You have a groove called"):
        keep_own(desk, again)
    with desks(write=True) as desk:
        assert all_own(desk, "groove") == (GROOVE,)
        keep_own(desk, again, instead_of="two step")
        assert all_own(desk, "groove") == (again,)
        assert all_own(desk, "kit") == (KIT,)
        assert one_own(desk, "groove", "Two-Step") == again
        forget_own(desk, "groove", "Two-Step")
        assert all_own(desk, "groove") == ()
    with desks() as desk, pytest.raises(NotThereError, match="You have no groove of that name"):
        one_own(desk, "groove", "Two-Step")


def test_what_can_not_be_kept_is_said(desks):
    with desks(write=True) as desk:
        with pytest.raises(StoreError, match=r"song.* can't be kept; .* are: figure, groove, kit"):
            keep_own(desk, Own(kind="song", name="x", text="x"))
        with pytest.raises(StoreError, match="A name of 81 characters"):
            keep_own(desk, Own(kind="kit", name="x" * 81, text="x"))
        with pytest.raises(StoreError, match="A text of 20,001 characters"):
            keep_own(desk, Own(kind="kit", name="x", text="x" * 20_001))


def test_a_text_that_can_not_be_read_is_passed_over(desks, kept):
    with desks(write=True) as desk:
        keep_own(desk, Own(kind="kit", name="five-piece", text='[kits.five-piece]\nfrom = "four-piece"\n'))
    with desks() as desk:
        assert [one.name for one in own_tables(desk).kits] == ["nook"]
