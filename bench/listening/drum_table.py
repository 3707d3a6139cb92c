"""The table of the ear: families of lone strokes, and wrong drums found without a calibration, on unseen kits.

The threshold of accusation is `surface.confidence` of listen/limits.toml; the weights of the evidence were
fitted on kits of the split "tune", which are not reported.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from bench.listening.takes import KnownTake, generate_takes
from fillwright.listen.alignment.align import align_take
from fillwright.listen.alignment.surfaces.drum_evidence import DrumEvidence
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.limits import get_limit
from fillwright.listen.onsets.detect import detect_onsets
from fillwright.listen.onsets.ear.outputs import CLASSES

_CONDITIONS = ("dry", "room 30 dB", "phone")
_TAKES = 24  # of each condition; ours, for time
_NEAR_SECONDS = 0.012  # from an onset, in which a stroke is that onset's; ours, not measured
_HAND_DRUMS = frozenset({"snare", "high tom", "mid tom", "floor tom"})
_FAMILIES = {
    "kick": ("kick",),
    "snare": ("snare",),
    "rim": ("rim",),
    "tom": ("high tom", "mid tom", "floor tom", "second floor tom"),
    "hi-hat": ("hi-hat", "foot hi-hat", "open hi-hat"),
    "cymbal": ("crash", "second crash", "splash", "china", "ride bow", "ride bell"),
}
_FAMILY_OF_CLASS = {
    "kick": "kick",
    "snare": "snare",
    "rim": "rim",
    "tom": "tom",
    "hi-hat": "hi-hat",
    "open hi-hat": "hi-hat",
    "crash": "cymbal",
    "ride": "cymbal",
}


@dataclass(slots=True, kw_only=True)
class DrumTally:
    """Counts over the takes of a condition.

    Attributes:
        takes: number of takes.
        lone: strokes with nothing else within 12 ms.
        right: those given the right family.
        planted: strokes of fills held against another hand drum of the phrase, as if that were written.
        found: those reported on the drum that was struck.
        false: strokes on their drum that were accused.
    """

    takes: int = 0
    lone: int = 0
    right: int = 0
    planted: int = 0
    found: int = 0
    false: int = 0

    def add(self, take: KnownTake, chance: np.random.Generator) -> None:
        """Count one take."""
        detected = detect_onsets(take.samples, take.rate)
        strokes = list(_list_lone(take, detected))
        evidence = _build_evidence(take, detected, strokes)
        hands = sorted(_HAND_DRUMS & evidence.surfaces)
        self.takes += 1
        for stroke in strokes:
            odds = evidence.class_odds[stroke.onset]
            likeliest = max(_FAMILY_OF_CLASS, key=lambda name: odds[CLASSES.index(name)])
            self.lone += 1
            self.right += stroke.struck in _FAMILIES[_FAMILY_OF_CLASS[likeliest]]
            if stroke.struck != stroke.written:
                continue
            self.false += _accuse(evidence, stroke.written, stroke.onset) != ""
            others = [name for name in hands if name != stroke.written]
            if stroke.in_fill and stroke.written in hands and others:
                self.planted += 1
                self.found += _accuse(evidence, str(chance.choice(others)), stroke.onset) == stroke.struck


@dataclass(frozen=True, slots=True, kw_only=True)
class LoneStroke:
    """An aligned main stroke that is alone as written and as played."""

    written: str
    struck: str
    onset: int
    in_fill: bool


def _accuse(evidence: DrumEvidence, written: str, onset: int) -> str:
    """Return the other drum that a stroke is reported on; "" if it is not accused."""
    surface, probability = evidence.find_surface(written, onset)
    return surface if surface != written and probability >= get_limit("surface.confidence") else ""


def _build_evidence(take: KnownTake, detected: DetectedTake, strokes: list[LoneStroke]) -> DrumEvidence:
    references: dict[str, list[int]] = {}
    for stroke in strokes:
        references.setdefault(stroke.written, []).append(stroke.onset)
    return DrumEvidence(
        class_odds=np.array([onset.class_odds for onset in detected.onsets]),
        prints=np.array([onset.voice_print for onset in detected.onsets]),
        pitches=np.array([onset.pitch_octaves for onset in detected.onsets]),
        references={name: tuple(members) for name, members in references.items()},
        surfaces=frozenset(stroke.surface for stroke in take.written.strokes),
    )


def _list_lone(take: KnownTake, detected: DetectedTake) -> Iterator[LoneStroke]:
    strokes = take.written.strokes
    times = [stroke.seconds for stroke in strokes if stroke.grace_of is None]
    for repetition in align_take(take.written, detected).repetitions:
        for stroke in repetition.strokes:
            written = strokes[stroke.written]
            if stroke.onset is None or written.grace_of is not None:
                continue
            at = detected.onsets[stroke.onset].seconds
            struck = [sound.surface for sound in take.truth.played if abs(sound.seconds - at) < _NEAR_SECONDS]
            if len(struck) == 1 and sum(abs(time - written.seconds) < _NEAR_SECONDS for time in times) == 1:
                yield LoneStroke(
                    written=written.surface, struck=struck[0], onset=stroke.onset, in_fill=written.in_fill
                )


def main() -> dict[str, float]:
    """Print and return the figures."""
    figures: dict[str, float] = {}
    print("drums, by the ear and without a calibration")
    for condition in _CONDITIONS:
        tally, chance = DrumTally(), np.random.default_rng(0)
        for take in generate_takes("report", condition, _TAKES):
            tally.add(take, chance)
        family, found = tally.right / max(1, tally.lone), tally.found / max(1, tally.planted)
        false = tally.false / max(1, tally.takes)
        print(
            f"  {condition} ({tally.takes} takes): family of {tally.lone:,} lone strokes {family:.3f};"
            f" wrong drum found {found:.2f} of {tally.planted}, {false:.2f} false per take"
        )
        figures |= {
            f"{condition}: family": family,
            f"{condition}: wrong drum": found,
            f"{condition}: false": false,
        }
    return figures


if __name__ == "__main__":
    main()
