"""A drum part with its sticking, drawn on the kit plan and played."""

from __future__ import annotations

from fractions import Fraction

from fillwright.errors import FillwrightError
from fillwright.music.hit import Hit
from fillwright.music.stroke import GRACE_VELOCITY, Level, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.score.engraving.kit_plan import KitPlan, draw_kit_plan
from fillwright.score.engraving.paper import make_pdf
from fillwright.score.parts.part_sticking import PartSticking
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.peak import limit_peak
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike

LONGEST_SECONDS = 1200.0  # of audio; ours, twenty minutes
PAGE_WIDTH_MM = 160.0  # of the kit plan; ours, the text width of an A4 page
_ACCENT_FROM = 100  # velocity from which a stroke is drawn as an accent; ours, between our tap and accent


def draw_plan(part: PartSticking) -> KitPlan:
    """Draw the kit from above with the path of each hand, strokes numbered in order."""
    hits = tuple(
        Hit(
            at=Fraction(stroke.struck.onset_seconds).limit_denominator(100_000),
            length=Fraction(0),
            stroke=Stroke(hand=played.limb, level=_find_level(stroke.struck.velocity)),
            surface=find_surface(stroke.struck.surface),
        )
        for stroke, played in zip(part.strokes, part.sticking.strokes, strict=True)
    )
    return draw_kit_plan(hits, part.kit)


def draw_plan_pdf(part: PartSticking) -> bytes:
    """Draw the kit plan on a page of its own size, as the content of a .pdf file."""
    plan = draw_plan(part)
    height = PAGE_WIDTH_MM * plan.height_cm / plan.width_cm
    return make_pdf(plan.svg, width_mm=PAGE_WIDTH_MM, height_mm=height)


def play_part(part: PartSticking) -> Audio:
    """Play the part at the target tempo, from its first stroke.

    Raises:
        FillwrightError: for more than twenty minutes.
    """
    onsets = [stroke.struck.onset_seconds * part.scale for stroke in part.strokes]
    if onsets[-1] - onsets[0] > LONGEST_SECONDS:
        raise FillwrightError(
            f"At {part.tempo:g} bpm the part lasts {(onsets[-1] - onsets[0]) / 60:.0f} minutes; up to "
            f"{LONGEST_SECONDS / 60:.0f} can be played."
        )
    strikes = [
        Strike(
            name=stroke.struck.surface,
            onset_seconds=onset - onsets[0],
            velocity=_fill_in_velocity(stroke.struck.velocity),
        )
        for stroke, onset in zip(part.strokes, onsets, strict=True)
    ]
    return Audio(samples=limit_peak(mix(strikes)), start_seconds=0.0)


def _find_level(velocity: int) -> Level:
    if 0 < velocity <= GRACE_VELOCITY:
        return Level.GHOST
    return Level.ACCENT if velocity >= _ACCENT_FROM else Level.TAP


def _fill_in_velocity(velocity: int) -> int:
    return velocity or Level.TAP.velocity
