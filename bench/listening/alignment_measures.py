"""The measures of an alignment, against takes whose truth is known.

Conventions: a written stroke that was played counts as matched if the alignment puts it within 12 ms (or 20) of
    its true
time. "Missing" and "extra" have precision and recall over all takes; "not audible" is not counted as missing. A
wrong surface counts if it is reported with the confidence that a report needs. Grace notes are counted
separately.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field

import numpy as np

from bench.listening.simulated_player import PlayedSound, TakeTruth
from fillwright.listen.alignment.model import AlignedStroke, Alignment, Outcome
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.limits import get_limit
from fillwright.listen.written import WrittenPhrase
from fillwright.music.stroke import Level

# All ours, not measured.
_START_SECONDS = 0.25  # a repetition that starts nearer than this to a true one is that one
_EXTRA_SECONDS = 0.02  # an extra stroke nearer than this to a true one is that one
_CLOSE_SECONDS, _NEAR_SECONDS = 0.012, 0.020  # errors of a matched stroke, at most
_STEADY_MS = 5.0  # deviation of a steady player


@dataclass(slots=True, kw_only=True)
class AlignmentTally:
    """Counts over takes; `add` joins another tally.

    Attributes:
        counts: by name.
        rushes: of every take: truth, estimate, standard error, seconds of fill, True for a steady player.
        loudness: for every take and surface, loudness of accents and of taps.
    """

    counts: Counter[str] = field(default_factory=Counter)
    rushes: list[tuple[float, float, float, float, bool]] = field(default_factory=list)
    loudness: list[tuple[list[float], list[float]]] = field(default_factory=list)

    def add(self, other: AlignmentTally) -> None:
        """Add another tally."""
        self.counts.update(other.counts)
        self.rushes += other.rushes
        self.loudness += other.loudness

    def calculate_share(self, name: str, of: str) -> float:
        """Return one count as a share of another."""
        return self.counts[name] / self.counts[of] if self.counts[of] else float("nan")

    def calculate_rates(self, name: str) -> tuple[float, float]:
        """Return precision and recall of a kind of report."""
        right = self.counts[f"{name} right"]
        reported, true = self.counts[f"{name} reported"], self.counts[f"{name} true"]
        return right / reported if reported else float("nan"), right / true if true else float("nan")

    def calculate_auc(self) -> float:
        """Return how often an accent is louder than a tap on the same surface of the same take."""
        louder = pairs = 0.0
        for accents, taps in self.loudness:
            difference = np.array(accents)[:, None] - np.array(taps)
            louder += float((difference > 0).sum() + 0.5 * (difference == 0).sum())
            pairs += difference.size
        return louder / pairs if pairs else float("nan")


def measure_alignment(
    written: WrittenPhrase, truth: TakeTruth, take: DetectedTake, alignment: Alignment
) -> AlignmentTally:
    """Return the counts of one alignment."""
    tally = AlignmentTally()
    repetitions = _match_repetitions(truth, alignment)
    matched = [id(strokes) for strokes in repetitions.values()]
    tally.counts["takes"] += 1
    tally.counts["placed"] += len(alignment.repetitions) == len(truth.starts) == len(repetitions)
    tally.counts["repetitions"] += len(truth.starts)
    tally.counts["repetitions found"] += len(repetitions)
    for sound in truth.played:
        if sound.written is not None:
            strokes = repetitions.get(sound.repetition)
            _count_stroke(tally, sound, strokes[sound.written] if strokes else None, written)
    _count_missing(tally, written, truth, repetitions)
    tally.counts["missing reported"] += sum(
        _is_missing(written, stroke)
        for repetition in alignment.repetitions
        if id(repetition.strokes) not in matched
        for stroke in repetition.strokes
    )
    _count_extra(tally, truth, take, alignment)
    _record_rush(tally, written, truth, alignment)
    _record_loudness(tally, written, alignment)
    return tally


def _match_repetitions(truth: TakeTruth, alignment: Alignment) -> dict[int, tuple[AlignedStroke, ...]]:
    """Return the aligned strokes of each true repetition that was found."""
    matched = {}
    for number, start in enumerate(truth.starts):
        near = [
            repetition
            for repetition in alignment.repetitions
            if abs(repetition.start_seconds - start) < _START_SECONDS
        ]
        if near:
            distances = [abs(repetition.start_seconds - start) for repetition in near]
            matched[number] = near[int(np.argmin(distances))].strokes
    return matched


def _count_stroke(
    tally: AlignmentTally, sound: PlayedSound, stroke: AlignedStroke | None, written: WrittenPhrase
) -> None:
    name = "grace" if sound.role == "grace" else "stroke"
    tally.counts[name] += 1
    seconds = stroke.played_seconds if stroke else None
    if seconds is not None:
        tally.counts[f"{name} 12 ms"] += abs(seconds - sound.seconds) <= _CLOSE_SECONDS
        tally.counts[f"{name} 20 ms"] += abs(seconds - sound.seconds) <= _NEAR_SECONDS
    if stroke is None or name == "grace":
        return
    surface = written.strokes[stroke.written].surface
    sure = seconds is not None and stroke.surface_confidence >= get_limit("surface.confidence")
    wrong = sure and stroke.surface_played not in ("", surface)
    tally.counts["wrong reported"] += wrong
    tally.counts["wrong true"] += not sound.right_surface
    tally.counts["wrong right"] += wrong and not sound.right_surface and stroke.surface_played == sound.surface
    if seconds is not None and stroke.surface_played:
        tally.counts["named"] += 1
        tally.counts["named right"] += stroke.surface_played == sound.surface


def _is_missing(written: WrittenPhrase, stroke: AlignedStroke) -> bool:
    return stroke.outcome is Outcome.MISSING and written.strokes[stroke.written].grace_of is None


def _count_missing(
    tally: AlignmentTally,
    written: WrittenPhrase,
    truth: TakeTruth,
    repetitions: dict[int, tuple[AlignedStroke, ...]],
) -> None:
    true = {pair for pair in truth.missing if written.strokes[pair[1]].grace_of is None}
    reported = {
        (number, stroke.written)
        for number, strokes in repetitions.items()
        for stroke in strokes
        if _is_missing(written, stroke)
    }
    tally.counts["missing true"] += len(true)
    tally.counts["missing reported"] += len(reported)
    tally.counts["missing right"] += len(true & reported)


def _count_extra(tally: AlignmentTally, truth: TakeTruth, take: DetectedTake, alignment: Alignment) -> None:
    left = [sound.seconds for sound in truth.played if sound.role == "extra"]
    tally.counts["extra true"] += len(left)
    tally.counts["extra reported"] += len(alignment.extra)
    for index in alignment.extra:
        away = [abs(seconds - take.onsets[index].seconds) for seconds in left]
        if away and min(away) <= _EXTRA_SECONDS:
            left.pop(int(np.argmin(away)))
            tally.counts["extra right"] += 1


def _record_rush(tally: AlignmentTally, written: WrittenPhrase, truth: TakeTruth, alignment: Alignment) -> None:
    """Record the rush over all repetitions, the surer ones counting more."""
    rushes = [
        (repetition.fill_rush_percent, repetition.fill_rush_error_percent)
        for repetition in alignment.repetitions
        if repetition.fill_rush_percent is not None and repetition.fill_rush_error_percent
    ]
    if not rushes:
        return
    weights = np.array([error**-2 for _, error in rushes])
    mean = float(weights @ [rush for rush, _ in rushes] / weights.sum())
    fill = [stroke.seconds for stroke in written.strokes if stroke.in_fill]
    steady = truth.deviation_ms == _STEADY_MS
    tally.rushes.append((truth.rush_percent, mean, float(weights.sum() ** -0.5), max(fill) - min(fill), steady))


def _record_loudness(tally: AlignmentTally, written: WrittenPhrase, alignment: Alignment) -> None:
    loudness: dict[tuple[str, Level], list[float]] = defaultdict(list)
    for repetition in alignment.repetitions:
        for aligned in repetition.strokes:
            stroke = written.strokes[aligned.written]
            if stroke.grace_of is None and aligned.loudness_db is not None:
                loudness[stroke.surface, stroke.level].append(aligned.loudness_db)
    for (surface, level), accents in loudness.items():
        taps = loudness.get((surface, Level.TAP))
        if level is Level.ACCENT and taps:
            tally.loudness.append((accents, taps))
