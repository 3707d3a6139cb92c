"""Strokes: limbs and their other side, kinds and their grace notes, levels and their loudness."""

from __future__ import annotations

import dataclasses

import pytest

from fillwright.music.stroke import GRACE_VELOCITY, Kind, Level, Limb, Stroke, mirror


@pytest.mark.parametrize(
    ("limb", "other"),
    [
        (Limb.RIGHT, Limb.LEFT),
        (Limb.LEFT, Limb.RIGHT),
        (Limb.RIGHT_FOOT, Limb.LEFT_FOOT),
        (Limb.LEFT_FOOT, Limb.RIGHT_FOOT),
    ],
)
def test_the_other_limb_is_of_the_same_sort(limb: Limb, other: Limb) -> None:
    assert limb.other is other
    assert limb.is_foot == other.is_foot


def test_limbs_are_hands_or_feet() -> None:
    assert [limb for limb in Limb if limb.is_foot] == [Limb.RIGHT_FOOT, Limb.LEFT_FOOT]


@pytest.mark.parametrize(("kind", "graces"), [("single", 0), ("flam", 1), ("drag", 2), ("buzz", 0)])
def test_a_kind_knows_its_grace_notes(kind: str, graces: int) -> None:
    assert Kind(kind).graces == graces


def test_an_accent_is_louder_than_a_tap_and_a_tap_louder_than_a_ghost_note() -> None:
    accent, tap, ghost = (level.velocity for level in (Level.ACCENT, Level.TAP, Level.GHOST))
    assert 127 >= accent > tap > GRACE_VELOCITY > 0
    assert tap > ghost > 0


def test_a_mirrored_stroke_keeps_its_kind_and_level() -> None:
    stroke = Stroke(hand=Limb.RIGHT_FOOT, kind=Kind.DRAG, level=Level.ACCENT)
    assert stroke.mirror() == Stroke(hand=Limb.LEFT_FOOT, kind=Kind.DRAG, level=Level.ACCENT)


def test_rests_stay_rests_when_mirrored() -> None:
    right, left = Stroke(hand=Limb.RIGHT), Stroke(hand=Limb.LEFT)
    assert mirror((right, None, right, left)) == (left, None, left, right)


def test_a_stroke_can_not_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign to field 'hand'"):
        Stroke(hand=Limb.RIGHT).hand = Limb.LEFT  # type: ignore[misc]
