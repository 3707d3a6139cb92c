"""A take as arrays: its onsets in order, without what an electronic kit sends by mistake."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.detected_take import DetectedTake, Onset

Floats = npt.NDArray[np.float64]

_RETRIGGER_SECONDS = 0.022
_RETRIGGER_DB = -12.0
_CROSSTALK_SECONDS = 0.008
_CROSSTALK_DB = -21.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hearing:
    """The onsets that count.

    Attributes:
        heard: the take.
        index: of each among `heard.onsets`; -1 for a faint moment.
        seconds: ascending.
        strength_db: how far each stands out.
        loudness_db: how loud each is.
        confidence: how sure it is that something was struck.
        rows: their colours, shape (onsets, features); no features for an electronic kit.
        surfaces: what the source itself calls each; "" where it doesn't.
        doubtful: which may come from a louder pad's shaking: a stroke where one is written, else nothing.
    """

    heard: DetectedTake
    index: npt.NDArray[np.intp]
    seconds: Floats
    strength_db: Floats
    loudness_db: Floats
    confidence: Floats
    rows: Floats
    surfaces: tuple[str, ...]
    doubtful: npt.NDArray[np.bool_]

    def __len__(self) -> int:
        """How many."""
        return len(self.index)

    @property
    def faint(self) -> npt.NDArray[np.bool_]:
        """Which are faint moments, where more likely nothing was struck."""
        return self.index < 0


def hearing(heard: DetectedTake) -> Hearing:
    """The onsets of a take that count, and its faint moments among them."""
    faulty = _triggered_twice(heard) if heard.from_midi else frozenset()
    placed = [(one, number) for number, one in enumerate(heard.onsets) if number not in faulty]
    placed = sorted([*placed, *((one, -1) for one in heard.faint)], key=lambda pair: pair[0].seconds)
    own = [one for one, _ in placed]
    sizes = {one.timbre.size for one in own}
    return Hearing(
        heard=heard,
        index=np.array([number for _, number in placed], dtype=np.intp),
        seconds=np.array([one.seconds for one in own]),
        strength_db=np.array([one.strength_db for one in own]),
        loudness_db=np.array([one.loudness_db for one in own]),
        confidence=np.array([one.confidence for one in own]),
        rows=np.array([one.timbre for one in own]) if len(sizes) == 1 else np.zeros((len(own), 0)),
        surfaces=tuple(one.surface for one in own),
        doubtful=np.array([heard.from_midi and _shaken(own, place) for place in range(len(own))], dtype=bool),
    )


def _triggered_twice(heard: DetectedTake) -> frozenset[int]:
    """Onsets of an electronic kit that are the one before them on the same pad again."""
    made = set()
    last: dict[str, Onset] = {}
    for number, one in enumerate(heard.onsets):
        first = last.get(one.surface)
        if (
            first is not None
            and one.seconds - first.seconds < _RETRIGGER_SECONDS
            and one.loudness_db - first.loudness_db < _RETRIGGER_DB
        ):
            made.add(number)
        else:
            last[one.surface] = one
    return frozenset(made)


def _shaken(onsets: Sequence[Onset], place: int) -> bool:
    """Whether a pad beside it was struck so much harder at the same moment that it may have shaken this one."""
    soft = onsets[place]
    near = onsets[max(0, place - 2) : place + 3]
    return any(
        one.surface != soft.surface
        and abs(one.seconds - soft.seconds) < _CROSSTALK_SECONDS
        and soft.loudness_db - one.loudness_db < _CROSSTALK_DB
        for one in near
    )
