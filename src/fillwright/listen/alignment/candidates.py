"""Candidate positions of the phrase in a take, over start and tempo, followed bar by bar.

Every bar, at every pace, is correlated with every position of a smoothed curve of the take's onsets; then
dynamic programming finds the best path from bar to bar, which may bend a little in tempo. A moment that meets
an onset counts for a candidate, one that doesn't counts against it, and so does loudness that doesn't fit the
accents.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.moments import Moments

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int32]

STEP_SECONDS = 0.01
"""Time between two positions that are tried; ours, not measured."""

# Scores have no unit: an onset at its place counts 1. All are ours, not measured.
_BLUR_SECONDS = 0.022  # standard deviation of an onset's bump
_PACE_STEP = 0.0075  # between paces that are tried, as a difference of logarithms
_MOST_BEND, _BEND_COST = 3, 0.25  # steps of pace from bar to bar, at most; cost of each
_MOST_SLACK, _SLACK_COST = 3, 0.12  # steps of position from bar to bar, at most; cost of each
_EMPTY_COST = 0.3  # of every moment, so that one without an onset counts against the candidate
_TEMPO_SPREAD = 0.1  # standard deviation of the logarithm of the pace
_PEAKS_APART_SECONDS = 0.06  # candidates that end nearer than this are one
_NEVER = -1e9  # score of what can't be


@dataclass(frozen=True, slots=True, kw_only=True)
class PhraseCandidate:
    """A position at which the phrase may have been played.

    Attributes:
        bar_starts: start of each bar in seconds in the take, without the end of the last.
        pace: played seconds per written second, of the first bar.
        score: higher is better.
    """

    bar_starts: tuple[float, ...]
    pace: float
    score: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Channel:
    """One curve of the take, and how much each moment of the phrase expects of it.

    Attributes:
        curve: shape (positions,), a value every `STEP_SECONDS`.
        expected: shape (moments,).
    """

    curve: Floats
    expected: Floats


def list_paces(slowest: float, fastest: float) -> Floats:
    """Return the paces to try, evenly spaced in ratio."""
    count = int(np.ceil(np.log(fastest / slowest) / _PACE_STEP)) + 1
    return np.asarray(slowest * np.exp(np.arange(count) * _PACE_STEP))


def blur_onsets(seconds: Floats, heights: Floats, take_seconds: float, before_seconds: float) -> Floats:
    """Return a curve with a bump at each onset; the higher one counts if two overlap.

    Args:
        seconds: of the onsets.
        heights: of their bumps, of either sign.
        take_seconds: length of the take.
        before_seconds: silence put before the take.
    """
    size = int(np.ceil((take_seconds + before_seconds) / STEP_SECONDS)) + 1
    curve = np.zeros(size)
    reach = int(np.ceil(3 * _BLUR_SECONDS / STEP_SECONDS))
    for onset, height in zip(seconds + before_seconds, heights, strict=True):
        centre = round(onset / STEP_SECONDS)
        low, high = max(0, centre - reach), min(size, centre + reach + 1)
        away = np.arange(low, high) * STEP_SECONDS - onset
        bump = height * np.exp(-0.5 * (away / _BLUR_SECONDS) ** 2)
        part = curve[low:high]
        np.copyto(part, bump, where=np.abs(bump) > np.abs(part))
    return curve


def find_candidates(
    moments: Moments, channels: tuple[Channel, ...], paces: Floats, *, before_seconds: float, most: int
) -> list[PhraseCandidate]:
    """Return the best positions of the phrase, best first.

    Args:
        moments: of the phrase.
        channels: to compare; the first is that of the onsets.
        paces: to try, ascending.
        before_seconds: silence before the take in the channels' curves.
        most: number of candidates, at most.
    """
    bar_scores = _score_bars(moments, channels, paces)
    starts = moments.written.bar_starts
    lengths = np.diff(starts)
    first, last = moments.all[0].bar, moments.all[-1].bar
    best = bar_scores[first] - 0.5 * (np.log(paces)[:, None] / _TEMPO_SPREAD) ** 2
    origins: list[tuple[Ints, Ints]] = []
    for bar in range(first + 1, last + 1):
        moved, origin = _move_to_next_bar(best, lengths[bar - 1] * paces)
        origins.append(origin)
        best = bar_scores[bar] + moved
    ends = best.max(axis=0)
    candidates = []
    for end in _pick_ends(ends, most):
        row = int(np.argmax(best[:, end]))
        path = [end]
        for from_row, from_position in reversed(origins):
            row, position = int(from_row[row, path[-1]]), int(from_position[row, path[-1]])
            path.append(position)
        path_starts = np.array(path[::-1]) * STEP_SECONDS - before_seconds
        earlier = [float(path_starts[0] - (starts[first] - start) * paces[row]) for start in starts[:first]]
        candidates.append(
            PhraseCandidate(
                bar_starts=(*earlier, *map(float, path_starts)),
                pace=float(paces[row]),
                score=float(ends[path[0]]),
            )
        )
    return candidates


def _score_bars(moments: Moments, channels: tuple[Channel, ...], paces: Floats) -> list[Floats]:
    """Return for every bar its score at every pace and position of its start; alike bars are scored once."""
    starts = moments.written.bar_starts
    scored: dict[tuple[object, ...], Floats] = {}
    scores = []
    for bar in range(len(starts) - 1):
        members = [number for number, moment in enumerate(moments.all) if moment.bar == bar]
        seconds = moments.seconds[members] - starts[bar]
        expected = np.array([[channel.expected[number] for channel in channels] for number in members])
        key = (tuple(np.round(seconds, 4)), expected.round(3).tobytes())
        if key not in scored:
            scored[key] = _correlate(seconds, expected.reshape(len(members), len(channels)), channels, paces)
        scores.append(scored[key])
    return scores


def _correlate(seconds: Floats, expected: Floats, channels: tuple[Channel, ...], paces: Floats) -> Floats:
    size = len(channels[0].curve)
    scores = np.zeros((len(paces), size))
    for row, pace in enumerate(paces):
        for moment_index, moment_seconds in enumerate(seconds):
            shift = round(moment_seconds * pace / STEP_SECONDS)
            for number, channel in enumerate(channels):
                if expected[moment_index, number]:
                    if 0 <= shift < size:
                        scores[row, : size - shift] += expected[moment_index, number] * channel.curve[shift:]
                    elif -size < shift < 0:
                        scores[row, -shift:] += expected[moment_index, number] * channel.curve[:shift]
    return np.asarray(scores - _EMPTY_COST * expected[:, 0].sum())


def _move_to_next_bar(best: Floats, lengths: Floats) -> tuple[Floats, tuple[Ints, Ints]]:
    """Return the best score up to every pace and start of the next bar, and the pace and start it came from."""
    rows, size = best.shape
    moved = np.full((rows, size), _NEVER)
    from_position = np.zeros((rows, size), dtype=np.int32)
    positions = np.arange(size)
    for row, length in enumerate(lengths):
        steps = round(length / STEP_SECONDS)
        for slack in range(-_MOST_SLACK, _MOST_SLACK + 1):
            shift = steps + slack
            if not 0 < shift < size:
                continue
            score = best[row, : size - shift] - _SLACK_COST * abs(slack)
            better = score > moved[row, shift:]
            np.copyto(moved[row, shift:], score, where=better)
            np.copyto(from_position[row, shift:], positions[: size - shift], where=better)
    bent = moved.copy()
    bent_row = np.repeat(np.arange(rows, dtype=np.int32)[:, None], size, axis=1)
    bent_position = from_position.copy()
    for bend in range(-_MOST_BEND, _MOST_BEND + 1):
        here = slice(max(0, bend), rows + min(0, bend))
        there = slice(max(0, -bend), rows + min(0, -bend))
        score = moved[there] - _BEND_COST * abs(bend)
        better = score > bent[here]
        np.copyto(bent[here], score, where=better)
        np.copyto(bent_row[here], np.arange(rows, dtype=np.int32)[there, None], where=better)
        np.copyto(bent_position[here], from_position[there], where=better)
    return bent, (bent_row, bent_position)


def _pick_ends(ends: Floats, most: int) -> list[int]:
    """Return the highest positions, at least 60 ms apart."""
    near = round(_PEAKS_APART_SECONDS / STEP_SECONDS)
    left = ends.copy()
    picked: list[int] = []
    while len(picked) < most:
        position = int(np.argmax(left))
        if left[position] <= _NEVER / 2:
            break
        picked.append(position)
        left[max(0, position - near) : position + near + 1] = _NEVER
    return picked
