"""The onsets of a take whose truth is known: by a detector that errs as ours does, or by an electronic kit.

The detector merges attacks within 6 ms, shifts each onset by a millisecond or so, misses soft strokes now and
then and adds false ones. The kit is exact to a millisecond or two and has the faults that pads have.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bench.listening.simulated_player import PlayedSound, TakeTruth
from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.listen.written import WrittenPhrase

# All ours, not measured, but for the figure of 6 ms, which the detector's flams have.
_MERGED_SECONDS = 0.006  # attacks nearer than this are one onset
_SAME_SECONDS = 0.003  # the same, for a take that is the written phrase itself
_NEIGHBOURS = {"snare": "high tom", "high tom": "mid tom", "mid tom": "high tom", "floor tom": "mid tom"}
_PADS = frozenset({"snare", "high tom", "mid tom", "floor tom", "crash", "kick"})
_TIME_ERROR_SECONDS = 0.0008  # scale of the detector's errors, double-sided exponential
_SOFT_VELOCITY = 60  # MIDI velocity below which a stroke is missed twice as often
_JITTER_SECONDS = 0.0015  # standard deviation of an electronic kit's times
_FAULT_SHARE = 0.012  # of an electronic kit's strokes that are triggered twice, or on a neighbour too
_LOUD_VELOCITY = 100  # MIDI velocity above which a neighbour may be triggered


def detect_written(
    written: WrittenPhrase, *, start_seconds: float = 1.0, scale: float = 1.0, from_midi: bool
) -> DetectedTake:
    """Return the written phrase itself as a take: every main note and grace note where it is written.

    Args:
        written: the phrase.
        start_seconds: time of the first beat.
        scale: how much slower than the intended tempo it is.
        from_midi: True if surfaces are known; else strokes at one moment are one onset.
    """
    sounds = [
        PlayedSound(
            seconds=start_seconds + stroke.seconds * scale,
            surface=stroke.surface,
            velocity=stroke.velocity,
            written=index,
            grid_seconds=0.0,
        )
        for index, stroke in enumerate(written.strokes)
    ]
    onsets = [_build_onset(sound, from_midi=from_midi) for sound in sounds]
    if not from_midi:
        onsets = _merge_onsets(onsets, _SAME_SECONDS)
    length = start_seconds + written.bar_starts[-1] * scale + 0.5
    return DetectedTake(
        onsets=tuple(sorted(onsets, key=lambda onset: onset.seconds)), seconds=length, from_midi=from_midi
    )


def simulate_detector(
    truth: TakeTruth, chance: np.random.Generator, *, missed: float = 0.02, false: float = 0.02
) -> DetectedTake:
    """Return the onsets that an imperfect detector reports of a take.

    Args:
        truth: of the take.
        chance: the source of its errors.
        missed: share of the strokes that it misses, soft ones more often.
        false: onsets that it adds, as a share of all.
    """
    detected = [
        sound
        for sound in truth.played
        if chance.random() > missed * (2 if sound.velocity < _SOFT_VELOCITY else 1)
    ]
    onsets = _merge_onsets([_build_onset(sound, from_midi=False) for sound in detected], _MERGED_SECONDS)
    onsets = [
        replace(onset, seconds=onset.seconds + float(chance.laplace(0, _TIME_ERROR_SECONDS)))
        for onset in onsets
    ]
    length = truth.played[-1].seconds + 1.5
    for _ in range(chance.binomial(len(onsets), false)):
        seconds = float(chance.uniform(0, length))
        onsets.append(Onset(seconds=seconds, strength_db=float(chance.uniform(2, 6)), loudness_db=-45.0))
    return DetectedTake(
        onsets=tuple(sorted(onsets, key=lambda onset: onset.seconds)), seconds=length, noise_db=-60.0
    )


def simulate_electronic_kit(truth: TakeTruth, chance: np.random.Generator) -> DetectedTake:
    """Return the strokes that an electronic kit sends of a take: jitter, retriggers and crosstalk included."""
    onsets: list[Onset] = []
    for sound in truth.played:
        sent = replace(sound, seconds=sound.seconds + float(chance.normal(0, _JITTER_SECONDS)))
        onsets.append(_build_onset(sent, from_midi=True))
        if chance.random() < _FAULT_SHARE and sound.surface in _PADS:
            again = sent.seconds + float(chance.uniform(0.004, 0.02))
            soft = max(1, round(sound.velocity * float(chance.uniform(0.15, 0.45))))
            onsets.append(_build_onset(replace(sound, seconds=again, velocity=soft), from_midi=True))
        loud = sound.velocity > _LOUD_VELOCITY
        if chance.random() < _FAULT_SHARE and loud and sound.surface in _NEIGHBOURS:
            crosstalk = replace(
                sound,
                surface=_NEIGHBOURS[sound.surface],
                velocity=max(1, round(sound.velocity * float(chance.uniform(0.05, 0.25)))),
                seconds=sent.seconds + float(chance.uniform(0.0, 0.004)),
            )
            onsets.append(_build_onset(crosstalk, from_midi=True))
    onsets = [replace(onset, seconds=round(onset.seconds, 3)) for onset in onsets]
    return DetectedTake(
        onsets=tuple(sorted(onsets, key=lambda onset: onset.seconds)),
        seconds=truth.played[-1].seconds + 1.0,
        from_midi=True,
    )


def _build_onset(sound: PlayedSound, *, from_midi: bool) -> Onset:
    loudness_db = float(40 * np.log10(sound.velocity / 127))
    return Onset(
        seconds=sound.seconds,
        strength_db=max(2.0, 20.0 + loudness_db),
        loudness_db=loudness_db,
        surface=sound.surface if from_midi else "",
    )


def _merge_onsets(onsets: list[Onset], within_seconds: float) -> list[Onset]:
    """Merge onsets that are too near: the first one's time, the loudest one's loudness."""
    merged: list[Onset] = []
    for onset in sorted(onsets, key=lambda unmerged: unmerged.seconds):
        if merged and onset.seconds - merged[-1].seconds <= within_seconds:
            if onset.loudness_db > merged[-1].loudness_db:
                merged[-1] = replace(onset, seconds=merged[-1].seconds)
        else:
            merged.append(onset)
    return merged
