"""Onsets: every attack of a take, to the sample region where it starts.

1. Powers in sixteen bands, every millisecond; how surprising each moment is against those just before it
   (`compute_spectrogram`).
2. Every peak of surprise is a moment that may be a stroke; where exactly it would start (`starts`).
3. What speaks for a stroke there (`extract_features`), weighed into a trust from 0 to 1 (`load_classifier`).
4. Sure moments are onsets, the others are kept for a second look (`Heard.look_again`).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.listen.onsets.attack_time import find_attack_starts
from fillwright.listen.onsets.classifier import load_classifier
from fillwright.listen.onsets.features import extract_features
from fillwright.listen.onsets.prepare import PreparedRecording, prepare_recording
from fillwright.listen.onsets.spectrogram import Spectrogram, pick_peaks, compute_spectrogram
from fillwright.listen.onsets.timbre import measure_timbres, measure_loudness_db, estimate_cutoff_hz

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

LEAST_NOVELTY = 2.6
_PEAKS_APART_SECONDS = 0.006
_SAME_SECONDS = 0.003
_STROKES_APART_SECONDS = 0.008
_SURE, _FAINT = 0.5, 0.04
_OPENING_SECONDS = 0.005
_ABOVE_USUAL = 8.0
_SHORTEST_SECONDS = 0.05
_QUIETEST_DB = -120.0


def detect_onsets(samples: npt.NDArray[np.floating], rate: float) -> DetectedTake:
    """Everything that is struck in a take.

    Args:
        samples: shape (n,) or (n, channels), any level.
        rate: samples a second.
    """
    take = prepare_recording(samples, rate)
    if take.seconds < _SHORTEST_SECONDS or not take.signal.any():
        return DetectedTake(onsets=(), seconds=take.seconds, noise_db=_QUIETEST_DB, loudest_db=_QUIETEST_DB)
    made = compute_spectrogram(take.signal, take.rate)
    starts, tops = find_onset_candidates(made, take.signal)
    found = extract_features(made, take.signal, starts, tops) if len(starts) else np.zeros((0, len(load_classifier().middle)))
    trust = load_classifier().confidence(found)
    seconds = take.seconds_at(starts)
    trust[(seconds < _OPENING_SECONDS) & ~_above_usual(made, tops)] = 0.0
    sure, faint = _sorted_out(seconds, trust)
    ahead = np.append(starts[sure], len(take.signal))
    onsets, faints = (
        _described(take, starts[which], ahead, strength_db=found[which, 0], confidence=trust[which])
        for which in (sure, faint)
    )
    return DetectedTake(
        onsets=onsets,
        faint=faints,
        seconds=take.seconds,
        novelty_db=made.rise_db[round(take.lead / made.hop) :],
        novelty_hop_seconds=made.hop / take.rate,
        noise_db=_noise_db(made, take),
        loudest_db=float(np.percentile([one.loudness_db for one in onsets], 95)) if onsets else _QUIETEST_DB,
        clipped_share=take.clipped_share,
        cutoff_hz=estimate_cutoff_hz(take.signal, take.rate, starts[sure]),
    )


def find_onset_candidates(made: Spectrogram, signal: npt.NDArray[np.float32]) -> tuple[Indices, Indices]:
    """Moments that may be strokes: samples where they would start, ascending, and their frames in `made`."""
    tops = pick_peaks(made.surprise, LEAST_NOVELTY, round(_PEAKS_APART_SECONDS * made.rate / made.hop))
    starts = find_attack_starts(signal, made.rate, tops * made.hop)
    order = np.argsort(starts, kind="stable")
    starts, tops = starts[order], tops[order]
    new = np.diff(starts, prepend=-made.rate) > _SAME_SECONDS * made.rate
    return starts[new], tops[new]


def _above_usual(made: Spectrogram, tops: Indices) -> npt.NDArray[np.bool_]:
    """Whether moments are far louder than most; the noise a recording begins with is not, and no stroke."""
    usual = float(np.median(made.powers[::7].sum(axis=1)))
    return np.asarray(made.powers[tops].sum(axis=1) > _ABOVE_USUAL * usual)


def _sorted_out(seconds: Floats, trust: Floats) -> tuple[Indices, Indices]:
    """The moments that are sure and, clear of them, those that are faint; of two that stand close the surer."""
    taken = np.zeros(len(seconds), bool)
    sure: list[int] = []
    faint: list[int] = []
    for one in np.argsort(-trust, kind="stable"):
        if trust[one] < _FAINT:
            break
        if not taken[one]:
            (sure if trust[one] >= _SURE else faint).append(one)
            first = np.searchsorted(seconds, seconds[one] - _STROKES_APART_SECONDS, "right")
            last = np.searchsorted(seconds, seconds[one] + _STROKES_APART_SECONDS, "left")
            taken[first:last] = True
    return np.sort(np.array(sure, np.intp)), np.sort(np.array(faint, np.intp))


def _described(
    take: PreparedRecording, starts: Indices, ahead: Indices, *, strength_db: Floats, trust: Floats
) -> tuple[Onset, ...]:
    """Onsets with their level and colour; `ahead` are the starts of all that are sure, and the end."""
    if not len(starts):
        return ()
    nexts = ahead[np.searchsorted(ahead[:-1], starts, "right")]
    seconds = take.seconds_at(starts)
    colour = measure_timbres(take.signal, take.rate, starts, nexts)
    level = measure_loudness_db(take.signal, take.rate, starts) + take.gain_db
    return tuple(
        Onset(
            seconds=float(seconds[n]),
            strength_db=float(strength_db[n]),
            loudness_db=float(level[n]),
            timbre=colour[n],
            confidence=float(trust[n]),
        )
        for n in range(len(starts))
    )


def _noise_db(made: Spectrogram, take: PreparedRecording) -> float:
    return max(_QUIETEST_DB, 10 * float(np.log10(made.background + 1e-13)) + take.gain_db)
