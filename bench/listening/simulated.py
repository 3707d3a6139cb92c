"""What would be heard of a take whose truth is known: by an ear that errs as ours does, or by an e-kit.

The ear merges what lies within 6 ms, shifts each onset by a millisecond or so, misses soft strokes now and then
and hears things that are none. The kit is exact to a millisecond or two and has the faults that pads have.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bench.listening.playing import Played, Truth
from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.listen.written import WrittenPhrase

_MERGED_SECONDS = 0.006
_NEIGHBOURS = {"snare": "high tom", "high tom": "mid tom", "mid tom": "high tom", "floor tom": "mid tom"}
_PADS = frozenset({"snare", "high tom", "mid tom", "floor tom", "crash", "kick"})


def exactly(expected: WrittenPhrase, *, start_seconds: float = 1.0, scale: float = 1.0, from_midi: bool) -> DetectedTake:
    """The writing itself as a take: every main note and grace note where it is written.

    Args:
        expected: what is written.
        start_seconds: where the first beat lies.
        scale: how much slower than the intended tempo it is.
        from_midi: whether surfaces are known; else strokes at one moment are one onset.
    """
    struck = [
        Played(
            seconds=start_seconds + one.seconds * scale,
            surface=one.surface,
            velocity=one.velocity,
            written=index,
            grid_seconds=0.0,
        )
        for index, one in enumerate(expected.strokes)
    ]
    heard = [_onset(one, from_midi=from_midi) for one in struck]
    if not from_midi:
        heard = _merged(heard, 0.003)
    length = start_seconds + expected.bar_starts[-1] * scale + 0.5
    return DetectedTake(onsets=tuple(sorted(heard, key=lambda one: one.seconds)), seconds=length, from_midi=from_midi)


def by_ear(truth: Truth, chance: np.random.Generator, *, missed: float = 0.02, ghosts: float = 0.02) -> DetectedTake:
    """What an ear hears of a take.

    Args:
        truth: what was played.
        chance: where its errors come from.
        missed: part of the strokes that it misses, soft ones more often.
        ghosts: things heard that are none, as a part of all.
    """
    own = [one for one in truth.played if chance.random() > missed * (2 if one.velocity < 60 else 1)]
    onsets = _merged([_onset(one, from_midi=False) for one in own], _MERGED_SECONDS)
    onsets = [replace(one, seconds=one.seconds + float(chance.laplace(0, 0.0008))) for one in onsets]
    length = truth.played[-1].seconds + 1.5
    for _ in range(chance.binomial(len(onsets), ghosts)):
        at = float(chance.uniform(0, length))
        onsets.append(Onset(seconds=at, strength_db=float(chance.uniform(2, 6)), loudness_db=-45.0))
    return DetectedTake(onsets=tuple(sorted(onsets, key=lambda one: one.seconds)), seconds=length, noise_db=-60.0)


def by_kit(truth: Truth, chance: np.random.Generator) -> DetectedTake:
    """What an electronic kit sends of a take: jitter, pads triggered twice or by a neighbour."""
    onsets: list[Onset] = []
    for one in truth.played:
        struck = replace(one, seconds=one.seconds + float(chance.normal(0, 0.0015)))
        onsets.append(_onset(struck, from_midi=True))
        if chance.random() < 0.012 and one.surface in _PADS:
            again = struck.seconds + float(chance.uniform(0.004, 0.02))
            soft = max(1, round(one.velocity * float(chance.uniform(0.15, 0.45))))
            onsets.append(_onset(replace(one, seconds=again, velocity=soft), from_midi=True))
        if chance.random() < 0.012 and one.velocity > 100 and one.surface in _NEIGHBOURS:
            shaken = replace(
                one,
                surface=_NEIGHBOURS[one.surface],
                velocity=max(1, round(one.velocity * float(chance.uniform(0.05, 0.25)))),
                seconds=struck.seconds + float(chance.uniform(0.0, 0.004)),
            )
            onsets.append(_onset(shaken, from_midi=True))
    onsets = [replace(one, seconds=round(one.seconds, 3)) for one in onsets]
    return DetectedTake(
        onsets=tuple(sorted(onsets, key=lambda one: one.seconds)),
        seconds=truth.played[-1].seconds + 1.0,
        from_midi=True,
    )


def _onset(one: Played, *, from_midi: bool) -> Onset:
    level_db = float(40 * np.log10(one.velocity / 127))
    return Onset(
        seconds=one.seconds,
        strength_db=max(2.0, 20.0 + level_db),
        loudness_db=level_db,
        surface=one.surface if from_midi else "",
    )


def _merged(onsets: list[Onset], within_seconds: float) -> list[Onset]:
    """Onsets so close that they are one: at the first one's time, the loudest one's level."""
    made: list[Onset] = []
    for one in sorted(onsets, key=lambda onset: onset.seconds):
        if made and one.seconds - made[-1].seconds <= within_seconds:
            if one.loudness_db > made[-1].loudness_db:
                made[-1] = replace(one, seconds=made[-1].seconds)
        else:
            made.append(one)
    return made
