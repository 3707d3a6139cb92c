"""What a recording of an electronic kit holds that nobody played: pads triggered twice or by a neighbour.

Each rule names what it did. The constants stand in `craft/motion.toml`, under [reading].
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fillwright.craft.player.players import load_trigger_thresholds
from fillwright.craft.sticking.hands import UnassignedStroke
from fillwright.score.parts.midi_notes import Pads

NumberedStroke = tuple[int, UnassignedStroke]
"""A stroke with its number in the file."""

Cleaned = tuple[list[NumberedStroke], list[tuple[int, str]]]
"""What is left, and for each stroke that went, its number and why."""


def merge_retriggers(heard: Sequence[NumberedStroke], pads: Pads) -> Cleaned:
    """Strokes of one pad that are too close to be two: the first one's time, the loudest one's sound.

    Args:
        heard: in the order in which they sound.
        pads: which surfaces are on one pad.
    """
    last: dict[str, int] = {}
    kept: list[NumberedStroke] = []
    gone: list[tuple[int, str]] = []
    for number, stroke in heard:
        pad = pads.pad(stroke.surface)
        place = last.get(pad)
        if place is None or not _is_again(kept[place][1], stroke):
            last[pad] = len(kept)
            kept.append((number, stroke))
            continue
        first_number, first = kept[place]
        gone.append((number, f"{stroke.surface}, triggered twice"))
        if stroke.velocity > first.velocity:
            kept[place] = (first_number, _louder(first, stroke))
    return kept, gone


def _is_again(first: UnassignedStroke, second: UnassignedStroke) -> bool:
    """Whether the second of two strokes on one pad is the first one again; a grace note never is."""
    if first.ahead_seconds != second.ahead_seconds:
        return False
    within = load_trigger_thresholds().pedal_seconds if first.surface == "foot hi-hat" else load_trigger_thresholds().double_trigger_seconds
    return second.onset_seconds - first.onset_seconds <= within


def _louder(first: UnassignedStroke, second: UnassignedStroke) -> UnassignedStroke:
    return UnassignedStroke(
        at_seconds=first.at_seconds,
        surface=second.surface,
        velocity=second.velocity,
        ahead_seconds=first.ahead_seconds,
    )


def drop_crosstalk(heard: Sequence[NumberedStroke]) -> Cleaned:
    """Strokes of hands less those that a pad heard from its neighbour.

    At once means within `crosstalk_seconds`. A third hand, softer than two others and less than
    `crosstalk_share` of the loudest, is crosstalk; so is a second one of less than `faint_share`.

    Args:
        heard: in the order in which they sound, no pad twice at once.
    """
    hands = [pair for pair in heard if not pair[1].by_foot]
    gone: list[tuple[int, str]] = []
    for place, (number, stroke) in enumerate(hands):
        louder = [each for each in _at_once(hands, place) if each.velocity > stroke.velocity]
        loudest = max(louder, key=lambda each: each.velocity, default=None)
        if loudest is None:
            continue
        share = load_trigger_thresholds().crosstalk_share if len(louder) > 1 else load_trigger_thresholds().faint_share
        if stroke.velocity < share * loudest.velocity:
            gone.append((number, f"{stroke.surface}, heard through the {loudest.surface}"))
    numbers = {number for number, _ in gone}
    return [pair for pair in heard if pair[0] not in numbers], gone


def find_shadows(heard: Sequence[NumberedStroke]) -> dict[int, str]:
    """Soft strokes of hands beside a loud one at once: struck, or heard through the louder pad.

    Args:
        heard: in the order in which they sound.

    Returns:
        By the number of each, the louder surface.
    """
    hands = [pair for pair in heard if not pair[1].by_foot]
    found = {}
    for place, (number, stroke) in enumerate(hands):
        loudest = max(_at_once(hands, place), key=lambda each: each.velocity, default=stroke)
        if stroke.velocity < load_trigger_thresholds().crosstalk_share * loudest.velocity:
            found[number] = loudest.surface
    return found


def _at_once(hands: Sequence[NumberedStroke], place: int) -> Iterable[UnassignedStroke]:
    """The other strokes at the same moment; in order of time, so the search stops at the first too far."""
    here = hands[place][1].onset_seconds
    for step in (-1, 1):
        other = place + step
        while (
            0 <= other < len(hands)
            and abs(hands[other][1].onset_seconds - here) <= load_trigger_thresholds().crosstalk_seconds
        ):
            yield hands[other][1]
            other += step
