"""Onset detection: every attack of a recording, to the sample at which it starts.

1. A spectrogram of sixteen bands, a frame every millisecond, and its novelty: how unlikely each frame is after
   those just before it (`spectrogram`).
2. Every peak of the novelty is an onset candidate; the sample at which it would start (`attack_time`).
3. Features of each candidate (`features`), classified into a probability from 0 to 1 (`classifier`).
4. The ear's odds that a drum is struck there (`ear`), added to those of the classifier.
5. Candidates above a half are onsets; less likely ones are kept as faint, for places where a stroke is
   expected. The ear's classes, pitch and voice print describe each.

The candidates are a millisecond fine, the ear's frames 5 ms, but it has heard more kits, rooms and noises:
together they are better than either alone (docs/ear.md).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.listen.onsets.attack_time import find_attack_starts
from fillwright.listen.onsets.classifier import load_classifier
from fillwright.listen.onsets.ear.listen import EarOutputs, run_ear
from fillwright.listen.onsets.features import extract_features
from fillwright.listen.onsets.prepare import PreparedRecording, prepare_recording
from fillwright.listen.onsets.spectrogram import Spectrogram, compute_spectrogram, pick_peaks
from fillwright.listen.onsets.timbre import estimate_cutoff_hz, measure_loudness_db, measure_timbres

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

LEAST_NOVELTY = 2.6
"""Height of a novelty peak, in nats, from which it is a candidate; ours, not measured."""

_PEAKS_APART_SECONDS = 0.006  # of two peaks nearer than this the higher counts; ours, not measured
_SAME_SECONDS = 0.003  # candidates with starts nearer than this are one; ours, not measured
_STROKES_APART_SECONDS = 0.008  # of two onsets nearer than this the likelier counts; ours, not measured
_ONSET_CONFIDENCE = 0.5  # an onset from here; the classifier is trained for it
_FAINT_CONFIDENCE = 0.04  # faint from here; ours, not measured
_OPENING_SECONDS = 0.005  # start of a recording, in which only a loud candidate counts; ours, not measured
_LOUD_RATIO = 8.0  # power of a loud candidate against the median frame; ours, not measured
_SHORTEST_SECONDS = 0.05  # a shorter recording has no onsets; ours, not measured
_QUIETEST_DB = -120.0  # level reported for silence, in dB of full scale; ours, not measured
_LOUDEST_PERCENT = 95  # percentile of the onsets' loudness that is reported; ours, not measured
_CLASSIFIER_WEIGHT, _EAR_WEIGHT, _BIAS = 0.75, 0.62, 0.58  # of the log odds; logistic regression on "tune" kits
_MOST_ODDS = 12.0  # log odds of either, at most; ours, not measured
_TINY = 1e-13  # power that keeps logarithms finite


def detect_onsets(samples: npt.NDArray[np.floating], rate: float) -> DetectedTake:
    """Detect every stroke of a recording.

    Args:
        samples: shape (n,) or (n, channels), at any level.
        rate: samples per second.
    """
    recording = prepare_recording(samples, rate)
    del samples  # as much memory again, in a long take
    if recording.seconds < _SHORTEST_SECONDS or not recording.signal.any():
        return DetectedTake(
            onsets=(), seconds=recording.seconds, noise_db=_QUIETEST_DB, loudest_db=_QUIETEST_DB
        )
    spectrogram = compute_spectrogram(recording.signal, recording.rate)
    starts, peaks = find_onset_candidates(spectrogram, recording.signal)
    classifier = load_classifier()
    features = (
        extract_features(spectrogram, recording.signal, starts, peaks)
        if len(starts)
        else np.zeros((0, len(classifier.feature_means)))
    )
    ear = run_ear(recording.signal, recording.rate)
    confidence = _combine_confidence(
        classifier.predict_confidence(features), ear.read_odds(starts / recording.rate)
    )
    seconds = recording.calculate_seconds(starts)
    confidence[(seconds < _OPENING_SECONDS) & ~_is_loud(spectrogram, peaks)] = 0.0
    sure, faint = _select_onsets(seconds, confidence)
    limits = np.append(starts[sure], len(recording.signal))
    onsets, faint_onsets = (
        _describe_onsets(
            recording,
            ear,
            starts[chosen],
            limits,
            strength_db=features[chosen, 0],
            confidence=confidence[chosen],
        )
        for chosen in (sure, faint)
    )
    loudness = [onset.loudness_db for onset in onsets]
    return DetectedTake(
        onsets=onsets,
        faint=faint_onsets,
        seconds=recording.seconds,
        noise_db=_measure_noise_db(spectrogram, recording),
        loudest_db=float(np.percentile(loudness, _LOUDEST_PERCENT)) if onsets else _QUIETEST_DB,
        clipped_share=recording.clipped_share,
        cutoff_hz=estimate_cutoff_hz(recording.signal, recording.rate, starts[sure]),
    )


def find_onset_candidates(spectrogram: Spectrogram, signal: npt.NDArray[np.float32]) -> tuple[Indices, Indices]:
    """Find the onset candidates.

    Returns:
        Samples at which they would start, ascending, and the frames of their novelty peaks.
    """
    apart = round(_PEAKS_APART_SECONDS * spectrogram.rate / spectrogram.hop)
    peaks = pick_peaks(spectrogram.novelty, LEAST_NOVELTY, apart)
    starts = find_attack_starts(signal, spectrogram.rate, peaks * spectrogram.hop)
    order = np.argsort(starts, kind="stable")
    starts, peaks = starts[order], peaks[order]
    new = np.diff(starts, prepend=-spectrogram.rate) > _SAME_SECONDS * spectrogram.rate
    return starts[new], peaks[new]


def _combine_confidence(confidence: Floats, ear_odds: Floats) -> Floats:
    """Return the probability of a stroke by the classifier's probability and the ear's log odds."""
    odds = np.log(confidence + _TINY) - np.log(1 - confidence + _TINY)
    total = (
        _CLASSIFIER_WEIGHT * np.clip(odds, -_MOST_ODDS, _MOST_ODDS)
        + _EAR_WEIGHT * np.clip(ear_odds, -_MOST_ODDS, _MOST_ODDS)
        + _BIAS
    )
    return np.asarray(1 / (1 + np.exp(-total)))


def _is_loud(spectrogram: Spectrogram, peaks: Indices) -> npt.NDArray[np.bool_]:
    """Return True for candidates far above the median power; a recording's first noise is not."""
    median = float(np.median(spectrogram.powers[::7].sum(axis=1)))
    return np.asarray(spectrogram.powers[peaks].sum(axis=1) > _LOUD_RATIO * median)


def _select_onsets(seconds: Floats, confidence: Floats) -> tuple[Indices, Indices]:
    """Select the sure and the faint candidates; of two that are too near the likelier."""
    blocked = np.zeros(len(seconds), bool)
    sure: list[int] = []
    faint: list[int] = []
    for number in np.argsort(-confidence, kind="stable"):
        if confidence[number] < _FAINT_CONFIDENCE:
            break
        if not blocked[number]:
            (sure if confidence[number] >= _ONSET_CONFIDENCE else faint).append(number)
            first = np.searchsorted(seconds, seconds[number] - _STROKES_APART_SECONDS, "right")
            last = np.searchsorted(seconds, seconds[number] + _STROKES_APART_SECONDS, "left")
            blocked[first:last] = True
    return np.sort(np.array(sure, np.intp)), np.sort(np.array(faint, np.intp))


def _describe_onsets(
    recording: PreparedRecording,
    ear: EarOutputs,
    starts: Indices,
    limits: Indices,
    *,
    strength_db: Floats,
    confidence: Floats,
) -> tuple[Onset, ...]:
    """Return onsets, described; `limits` are the starts of all sure ones, and the end of the recording."""
    if not len(starts):
        return ()
    next_starts = limits[np.searchsorted(limits[:-1], starts, "right")]
    seconds = recording.calculate_seconds(starts)
    timbres = measure_timbres(recording.signal, recording.rate, starts, next_starts)
    loudness = measure_loudness_db(recording.signal, recording.rate, starts) + recording.gain_db
    class_odds, pitches, prints = ear.describe(starts / recording.rate)
    return tuple(
        Onset(
            seconds=float(seconds[n]),
            strength_db=float(strength_db[n]),
            loudness_db=float(loudness[n]),
            timbre=timbres[n],
            confidence=float(confidence[n]),
            class_odds=class_odds[n],
            voice_print=prints[n],
            pitch_octaves=float(pitches[n]),
        )
        for n in range(len(starts))
    )


def _measure_noise_db(spectrogram: Spectrogram, recording: PreparedRecording) -> float:
    noise_db = 10 * float(np.log10(spectrogram.background + _TINY)) + recording.gain_db
    return max(_QUIETEST_DB, noise_db)
