"""A fill's difficulty in words for a student: its grade, its top tempo, and the place to watch."""

from __future__ import annotations

from fillwright.craft.player.motion import find_peak
from fillwright.lesson.fills import LessonFill
from fillwright.music.stroke import Limb
from fillwright.music.timing import FASTEST

_LIMBS = {Limb.RIGHT: "right hand", Limb.LEFT: "left hand"}


def describe_grade(fill: LessonFill) -> str:
    """Return grade, top tempo and hint as sentences: "Grade 2, top tempo 128 bpm. Watch ... on beat 4."."""
    hint = describe_hint(fill)
    watch = f" Watch the {hint}." if hint else ""
    return f"Grade {fill.step.route.grade}, top tempo {describe_top_tempo(fill)}.{watch}"


def describe_top_tempo(fill: LessonFill) -> str:
    """Return the fastest tempo that a player of the lesson's level can play the fill at: "128 bpm"."""
    return f"over {FASTEST} bpm" if fill.ceiling is None else f"{fill.ceiling} bpm"


def describe_hint(fill: LessonFill) -> str:
    """Return the limb with the tightest move and its beat, "right hand on beat 4"; empty where none repeats.

    For a left-handed player it is the limb that this player uses.
    """
    route, meter = fill.step.route, fill.phrase.meter
    peak = find_peak(route.demands)
    if peak is None:
        return ""
    limb = peak.limb.other if fill.mirrored else peak.limb
    in_bar = (route.span.start + route.hits[peak.stroke].at) % meter.bar
    beat = sum(start <= in_bar for start in meter.beat_starts)
    return f"{_LIMBS.get(limb, limb.value)} on beat {beat}"
