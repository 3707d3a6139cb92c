"""Strokes in a recording of an electronic kit that were not played: pads triggered twice or by a neighbour.

Each rule reports the strokes that it removed. The constants are in `craft/player/motion.toml`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fillwright.craft.player.players import load_trigger_thresholds
from fillwright.craft.sticking.hands import UnassignedStroke
from fillwright.score.parts.midi_notes import MidiNoteMap

NumberedStroke = tuple[int, UnassignedStroke]
"""A stroke with its number in the file, from 0."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Removal:
    """A stroke that was removed from a recording.

    Attributes:
        number: of the stroke in the file, from 0.
        merged: True if it was merged with the stroke before.
        reason: the surface and why, for a report.
    """

    number: int
    merged: bool = False
    reason: str

    @property
    def action(self) -> str:
        """The word for it in a report."""
        return "Merged" if self.merged else "Skipped"


Cleaned = tuple[list[NumberedStroke], list[Removal]]
"""The strokes that are left, and the removed ones."""


def merge_retriggers(strokes: Sequence[NumberedStroke], pads: MidiNoteMap) -> Cleaned:
    """Merge strokes of one pad that are too close to be two: the first one's time, the loudest one's sound.

    Args:
        strokes: in the order in which they sound.
        pads: which surfaces are on one pad.
    """
    last: dict[str, int] = {}
    kept: list[NumberedStroke] = []
    removed: list[Removal] = []
    for number, stroke in strokes:
        pad = pads.find_instrument(stroke.surface)
        index = last.get(pad)
        if index is None or not _is_retrigger(kept[index][1], stroke):
            last[pad] = len(kept)
            kept.append((number, stroke))
            continue
        first_number, first = kept[index]
        removed.append(Removal(number=number, merged=True, reason=f"{stroke.surface}, triggered twice"))
        if stroke.velocity > first.velocity:
            kept[index] = (first_number, _keep_louder(first, stroke))
    return kept, removed


def _is_retrigger(first: UnassignedStroke, second: UnassignedStroke) -> bool:
    """Return True if the second of two strokes on one pad is the first one again; a grace note never is."""
    if first.ahead_seconds != second.ahead_seconds:
        return False
    within = (
        load_trigger_thresholds().pedal_seconds
        if first.surface == "foot hi-hat"
        else load_trigger_thresholds().double_trigger_seconds
    )
    return second.onset_seconds - first.onset_seconds <= within


def _keep_louder(first: UnassignedStroke, second: UnassignedStroke) -> UnassignedStroke:
    return UnassignedStroke(
        at_seconds=first.at_seconds,
        surface=second.surface,
        velocity=second.velocity,
        ahead_seconds=first.ahead_seconds,
    )


def drop_crosstalk(strokes: Sequence[NumberedStroke]) -> Cleaned:
    """Drop strokes of hands that a pad picked up from its neighbour.

    At once means within `crosstalk_seconds`. A third hand, softer than two others and less than
    `crosstalk_share` of the loudest, is crosstalk; so is a second one of less than `faint_share`.

    Args:
        strokes: in the order in which they sound, no pad twice at once.
    """
    hands = [pair for pair in strokes if not pair[1].by_foot]
    removed: list[Removal] = []
    for index, (number, stroke) in enumerate(hands):
        louder = [other for other in _find_simultaneous(hands, index) if other.velocity > stroke.velocity]
        loudest = max(louder, key=lambda other: other.velocity, default=None)
        if loudest is None:
            continue
        share = (
            load_trigger_thresholds().crosstalk_share
            if len(louder) > 1
            else load_trigger_thresholds().faint_share
        )
        if stroke.velocity < share * loudest.velocity:
            reason = f"{stroke.surface}, crosstalk from the {loudest.surface}"
            removed.append(Removal(number=number, reason=reason))
    numbers = {removal.number for removal in removed}
    return [pair for pair in strokes if pair[0] not in numbers], removed


def find_shadows(strokes: Sequence[NumberedStroke]) -> dict[int, str]:
    """Find soft strokes of hands at the moment of a loud one: struck, or picked up from the louder pad.

    Args:
        strokes: in the order in which they sound.

    Returns:
        By the number of each, the louder surface.
    """
    hands = [pair for pair in strokes if not pair[1].by_foot]
    louder = {}
    for index, (number, stroke) in enumerate(hands):
        loudest = max(_find_simultaneous(hands, index), key=lambda other: other.velocity, default=stroke)
        if stroke.velocity < load_trigger_thresholds().crosstalk_share * loudest.velocity:
            louder[number] = loudest.surface
    return louder


def _find_simultaneous(hands: Sequence[NumberedStroke], index: int) -> Iterable[UnassignedStroke]:
    """Yield the other strokes at the same moment; they are in order of time, so the search ends early."""
    here = hands[index][1].onset_seconds
    for step in (-1, 1):
        other = index + step
        while (
            0 <= other < len(hands)
            and abs(hands[other][1].onset_seconds - here) <= load_trigger_thresholds().crosstalk_seconds
        ):
            yield hands[other][1]
            other += step
