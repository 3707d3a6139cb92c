"""A drum part with its hands, to see on the kit plan and to hear."""

from __future__ import annotations

from fractions import Fraction

from fillwright.errors import FillwrightError
from fillwright.music.hit import Hit
from fillwright.music.stroke import GRACE_VELOCITY, Level, Stroke
from fillwright.music.surfaces import surface
from fillwright.score.engraving.kit_plan import Plan, kit_plan
from fillwright.score.engraving.paper import drawing_pdf
from fillwright.score.parts.part_sticking import PartHands
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.peak import held
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike

LONGEST_SECONDS = 1200.0
PAGE_WIDTH_MM = 160.0
_ACCENT_FROM = 100


def plan_of(found: PartHands) -> Plan:
    """The kit from above with the path of each hand, strokes numbered in order."""
    hits = tuple(
        Hit(
            at=Fraction(stroke.struck.onset_seconds).limit_denominator(100_000),
            length=Fraction(0),
            stroke=Stroke(hand=played.limb, level=_level(stroke.struck.velocity)),
            surface=surface(stroke.struck.surface),
        )
        for stroke, played in zip(found.strokes, found.sticking.played, strict=True)
    )
    return kit_plan(hits, found.kit)


def plan_pdf(found: PartHands) -> bytes:
    """The kit plan on a page of its own size."""
    plan = plan_of(found)
    height = PAGE_WIDTH_MM * plan.height_cm / plan.width_cm
    return drawing_pdf(plan.svg, width_mm=PAGE_WIDTH_MM, height_mm=height)


def audio_of(found: PartHands) -> Audio:
    """The part as it was read, at the tempo asked, from its first stroke.

    Raises:
        FillwrightError: for more than twenty minutes.
    """
    onsets = [stroke.struck.onset_seconds * found.scale for stroke in found.strokes]
    if onsets[-1] - onsets[0] > LONGEST_SECONDS:
        raise FillwrightError(
            f"At {found.tempo:g} the part lasts {(onsets[-1] - onsets[0]) / 60:.0f} minutes; up to "
            f"{LONGEST_SECONDS / 60:.0f} are played."
        )
    strikes = [
        Strike(
            name=stroke.struck.surface, onset_seconds=onset - onsets[0], velocity=_loud(stroke.struck.velocity)
        )
        for stroke, onset in zip(found.strokes, onsets, strict=True)
    ]
    return Audio(samples=held(mix(strikes)), start_seconds=0.0)


def _level(velocity: int) -> Level:
    if 0 < velocity <= GRACE_VELOCITY:
        return Level.GHOST
    return Level.ACCENT if velocity >= _ACCENT_FROM else Level.TAP


def _loud(velocity: int) -> int:
    return velocity or Level.TAP.velocity
