"""What a match is measured by, against takes whose truth is known.

Conventions: a written stroke that was played counts as matched where the match says within 12 ms (or 20) when.
"Missing" and "extra" have precision and recall over all takes; "couldn't hear" counts as not said. A wrong
surface counts where it is told with the trust that a report asks for. Grace notes count by themselves.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field

import numpy as np

from bench.listening.playing import Played, Truth
from fillwright.listen.alignment.model import Alignment, AlignedStroke, Outcome
from fillwright.listen.limits import get_limit
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.written import WrittenPhrase
from fillwright.music.stroke import Level

_START_SECONDS = 0.25
_EXTRA_SECONDS = 0.02


@dataclass(slots=True, kw_only=True)
class Tally:
    """What was counted over takes; `add` another one to join them.

    Attributes:
        counts: by name.
        rushes: of every take: truth, estimate, standard error, seconds of fill, whether the player is steady.
        levels: for every take and surface, levels of accents and of taps.
    """

    counts: Counter[str] = field(default_factory=Counter)
    rushes: list[tuple[float, float, float, float, bool]] = field(default_factory=list)
    levels: list[tuple[list[float], list[float]]] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Join another tally."""
        self.counts.update(other.counts)
        self.rushes += other.rushes
        self.levels += other.levels

    def share(self, name: str, of: str) -> float:
        """One count as a part of another."""
        return self.counts[name] / self.counts[of] if self.counts[of] else float("nan")

    def rates(self, name: str) -> tuple[float, float]:
        """Precision and recall of what is said."""
        hit = self.counts[f"{name} hit"]
        said, true = self.counts[f"{name} said"], self.counts[f"{name} true"]
        return hit / said if said else float("nan"), hit / true if true else float("nan")

    def auc(self) -> float:
        """How often an accent is louder than a tap on the same surface of the same take."""
        won = pairs = 0.0
        for accents, taps in self.levels:
            away = np.array(accents)[:, None] - np.array(taps)
            won += float((away > 0).sum() + 0.5 * (away == 0).sum())
            pairs += away.size
        return won / pairs if pairs else float("nan")


def measured(expected: WrittenPhrase, truth: Truth, heard: DetectedTake, found: Alignment) -> Tally:
    """What one match got right."""
    tally = Tally()
    passes = _by_repeat(truth, found)
    tally.counts["takes"] += 1
    tally.counts["placed"] += len(found.repetitions) == len(truth.starts) == len(passes)
    tally.counts["repeats"] += len(truth.starts)
    tally.counts["repeats found"] += len(passes)
    for one in truth.played:
        if one.written is not None:
            of = passes.get(one.repeat)
            _stroke(tally, one, of[one.written] if of else None, expected)
    _missing(tally, expected, truth, passes)
    tally.counts["missing said"] += sum(
        _is_missing(expected, one)
        for number, each in enumerate(found.repetitions)
        if not any(passes[r] is each.strokes for r in passes)
        for one in each.strokes
    )
    _extra(tally, truth, heard, found)
    _rush(tally, expected, truth, found)
    _levels(tally, expected, found)
    return tally


def _by_repeat(truth: Truth, found: Alignment) -> dict[int, tuple[AlignedStroke, ...]]:
    made = {}
    for repeat, start in enumerate(truth.starts):
        near = [one for one in found.repetitions if abs(one.start_seconds - start) < _START_SECONDS]
        if near:
            made[repeat] = min(near, key=lambda one: abs(one.start_seconds - start)).strokes
    return made


def _stroke(tally: Tally, one: Played, said: AlignedStroke | None, expected: WrittenPhrase) -> None:
    name = "grace" if one.role == "grace" else "stroke"
    tally.counts[name] += 1
    at = said.played_seconds if said else None
    if at is not None:
        tally.counts[f"{name} 12 ms"] += abs(at - one.seconds) <= 0.012
        tally.counts[f"{name} 20 ms"] += abs(at - one.seconds) <= 0.020
    if said is None or name == "grace":
        return
    written = expected.strokes[said.written].surface
    sure = at is not None and said.surface_confidence >= get_limit("surface.confidence")
    wrong = sure and said.surface_played not in ("", written)
    tally.counts["wrong said"] += wrong
    tally.counts["wrong true"] += not one.right_surface
    tally.counts["wrong hit"] += wrong and not one.right_surface and said.surface_played == one.surface
    if at is not None and said.surface_played:
        tally.counts["named"] += 1
        tally.counts["named right"] += said.surface_played == one.surface


def _is_missing(expected: WrittenPhrase, one: AlignedStroke) -> bool:
    return one.outcome is Outcome.MISSING and expected.strokes[one.written].grace_of is None


def _missing(tally: Tally, expected: WrittenPhrase, truth: Truth, passes: dict[int, tuple[AlignedStroke, ...]]) -> None:
    true = {(r, index) for r, index in truth.missing if expected.strokes[index].grace_of is None}
    said = {(r, one.written) for r, own in passes.items() for one in own if _is_missing(expected, one)}
    tally.counts["missing true"] += len(true)
    tally.counts["missing said"] += len(said)
    tally.counts["missing hit"] += len(true & said)


def _extra(tally: Tally, truth: Truth, heard: DetectedTake, found: Alignment) -> None:
    left = [one.seconds for one in truth.played if one.role == "extra"]
    tally.counts["extra true"] += len(left)
    tally.counts["extra said"] += len(found.extra)
    for index in found.extra:
        at = heard.onsets[index].seconds
        near = [one for one in left if abs(one - at) <= _EXTRA_SECONDS]
        if near:
            left.remove(min(near, key=lambda one: abs(one - at)))
            tally.counts["extra hit"] += 1


def _rush(tally: Tally, expected: WrittenPhrase, truth: Truth, found: Alignment) -> None:
    """Of all times through together, the surer ones counting more."""
    own = [
        (one.fill_rush_percent, one.fill_rush_error_percent)
        for one in found.repetitions
        if one.fill_rush_percent is not None and one.fill_rush_error_percent
    ]
    if not own:
        return
    weights = np.array([error**-2 for _, error in own])
    mean = float(weights @ [rush for rush, _ in own] / weights.sum())
    filled = [one.seconds for one in expected.strokes if one.in_fill]
    steady = truth.wobble_ms == 5.0
    tally.rushes.append(
        (truth.rush_percent, mean, float(weights.sum() ** -0.5), max(filled) - min(filled), steady)
    )


def _levels(tally: Tally, expected: WrittenPhrase, found: Alignment) -> None:
    levels: dict[tuple[str, Level], list[float]] = defaultdict(list)
    for each in found.repetitions:
        for one in each.strokes:
            stroke = expected.strokes[one.written]
            if stroke.grace_of is None and one.loudness_db is not None:
                levels[stroke.surface, stroke.level].append(one.loudness_db)
    for (surface, level), accents in levels.items():
        taps = levels.get((surface, Level.TAP))
        if level is Level.ACCENT and taps:
            tally.levels.append((accents, taps))
