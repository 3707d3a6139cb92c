"""Hits: moving, ordering and mirroring."""

from __future__ import annotations

from fractions import Fraction

from fillwright.music.hit import Hit, mirror_hits
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import find_surface


def hit(at: str, name: str, hand: Limb = Limb.RIGHT) -> Hit:
    return Hit(at=Fraction(at), length=Fraction(1, 8), stroke=Stroke(hand=hand), surface=find_surface(name))


def test_a_moved_hit_keeps_all_but_its_place() -> None:
    assert hit("1/4", "snare").shift(Fraction(3)) == hit("13/4", "snare")


def test_hits_are_ordered_by_time_then_from_the_top_of_the_staff() -> None:
    hits = [hit("1/4", "crash"), hit("0", "kick"), hit("0", "hi-hat"), hit("0", "snare")]
    in_order = [h.surface.name for h in sorted(hits, key=Hit.order)]
    assert in_order == ["hi-hat", "snare", "kick", "crash"]


def test_mirrored_hits_stay_on_their_drums() -> None:
    hits = (hit("0", "floor tom"), hit("1/8", "kick", Limb.RIGHT_FOOT))
    assert mirror_hits(hits) == (hit("0", "floor tom", Limb.LEFT), hit("1/8", "kick", Limb.LEFT_FOOT))
