"""Evidence of the ear for another drum than the written one, without a calibration.

A stroke is held against the take's own strokes: by its class, by its voice print against those of strokes that
should be on the same drum and on others, and, among toms, by its pitch. Absolute pitches and names of toms are
never used. A drum that is wrong in every repetition is its own reference; then its class still
counts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.onset_arrays import OnsetArrays
from fillwright.listen.onsets.ear.outputs import CLASSES

Floats = npt.NDArray[np.float64]

# Weights of a logistic regression: strokes of fills on the kits of the bench's split "tune", three conditions.
_CLASS_WEIGHT = 0.81  # per unit of log odds
_PRINT_WEIGHT, _TOM_PRINT_WEIGHT = 6.88, 7.91  # per unit of cosine, between classes and between toms
_PITCH_WEIGHT = 3.16  # per octave, between toms
_NO_REFERENCE, _NO_TOM_REFERENCE = -2.77, 0.72  # if one of the two drums has too few strokes
_BIAS = -3.03  # log odds without any evidence
_MOST_ODDS = 8.0  # log odds of a class count up to here; ours, not measured
_LEAST_STROKES = 2  # of a drum, to be a reference; ours, not measured
_TINY = 1e-9  # length of a voice print, at least

_CLASS_OF = {
    "kick": "kick",
    "snare": "snare",
    "rim": "rim",
    "high tom": "tom",
    "mid tom": "tom",
    "floor tom": "tom",
    "second floor tom": "tom",
    "hi-hat": "hi-hat",
    "foot hi-hat": "hi-hat",
    "open hi-hat": "open hi-hat",
    "crash": "crash",
    "second crash": "crash",
    "splash": "crash",
    "china": "crash",
    "ride bow": "ride",
    "ride bell": "ride",
}
_CYMBALS = frozenset({"hi-hat", "open hi-hat", "crash", "ride"})  # classes; one for another was not measured


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrumEvidence:
    """The ear's evidence in one take.

    Attributes:
        class_odds: of each onset, shape (onsets, classes).
        prints: voice prints, shape (onsets, numbers).
        pitches: in octaves, shape (onsets,).
        references: onsets at which one drum alone should be struck, by its surface.
        surfaces: of the written phrase.
    """

    class_odds: Floats
    prints: Floats
    pitches: Floats
    references: Mapping[str, tuple[int, ...]]
    surfaces: frozenset[str]

    def find_surface(self, written: str, onset: int) -> tuple[str, float]:
        """Return the likeliest surface of a lone stroke, and the probability of it, 0 to 1.

        Args:
            written: the surface that should be struck.
            onset: number of the onset.
        """
        rivals = [surface for surface in sorted(self.surfaces) if _can_replace(written, surface)]
        probabilities = {rival: self._weigh(written, rival, onset) for rival in rivals}
        best = max(probabilities, key=lambda rival: probabilities[rival], default="")
        if not best or probabilities[best] <= 0.5:
            return written, 1.0 - probabilities.get(best, 0.0)
        return best, probabilities[best]

    def _weigh(self, written: str, rival: str, onset: int) -> float:
        """Return the probability that a stroke is on a rival rather than on the written surface."""
        usual, other = self._describe(written, onset), self._describe(rival, onset)
        among_toms = _CLASS_OF[written] == _CLASS_OF[rival]
        total = _BIAS
        if not among_toms:
            odds = np.clip(self.class_odds[onset], -_MOST_ODDS, _MOST_ODDS)
            rows = [CLASSES.index(_CLASS_OF[surface]) for surface in (rival, written)]
            total += _CLASS_WEIGHT * float(odds[rows[0]] - odds[rows[1]])
        if usual is None or other is None:
            total += _NO_TOM_REFERENCE if among_toms else _NO_REFERENCE
        else:
            nearer = float(self.prints[onset] @ (other[0] - usual[0]))
            total += (_TOM_PRINT_WEIGHT if among_toms else _PRINT_WEIGHT) * nearer
            if among_toms:
                pitch = self.pitches[onset]
                total += _PITCH_WEIGHT * (abs(pitch - usual[1]) - abs(pitch - other[1]))
        return float(1 / (1 + np.exp(-total)))

    def _describe(self, surface: str, without: int) -> tuple[Floats, float] | None:
        """Return the usual voice print and pitch of a surface; None with too few strokes besides one."""
        members = [onset for onset in self.references.get(surface, ()) if onset != without]
        if len(members) < _LEAST_STROKES:
            return None
        usual = np.median(self.prints[members], axis=0)
        return usual / (np.linalg.norm(usual) + _TINY), float(np.median(self.pitches[members]))


def _can_replace(written: str, rival: str) -> bool:
    """Return True if a stroke on one surface may be reported as one on the other."""
    if written == rival or not {written, rival} <= _CLASS_OF.keys():
        return False
    classes = {_CLASS_OF[written], _CLASS_OF[rival]}
    return not classes <= _CYMBALS and (len(classes) == 2 or classes == {"tom"})


def learn_drums(onsets: OnsetArrays, matches: Sequence[tuple[frozenset[str], int]]) -> DrumEvidence | None:
    """Return the ear's evidence in a take; None if it has none (an electronic kit).

    Args:
        onsets: of the take.
        matches: surfaces struck by the alignment, and their onset.
    """
    if not onsets.class_odds.size:
        return None
    references: dict[str, list[int]] = {}
    for surfaces, onset in matches:
        if len(surfaces) == 1:
            references.setdefault(next(iter(surfaces)), []).append(onset)
    return DrumEvidence(
        class_odds=onsets.class_odds,
        prints=onsets.voice_prints,
        pitches=onsets.pitches,
        references={surface: tuple(members) for surface, members in references.items()},
        surfaces=frozenset[str]().union(*(surfaces for surfaces, _ in matches)),
    )
