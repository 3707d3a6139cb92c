"""Where in a take the phrase may have been played: candidates over place and tempo, followed bar by bar.

Idea: every bar, at every pace, laid at every place of a smoothed picture of the take's onsets; then the best
path from bar to bar (dynamic programming), which may bend a little in tempo. A moment that meets an onset
counts for a candidate, one that does not against it, and so does loudness that does not fit the accents.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.moments import Moments

Floats = npt.NDArray[np.float64]

STEP_SECONDS = 0.01
_BLUR_SECONDS = 0.022
_PACE_STEP = 0.0075
_BENDS = 3
_BEND_PRICE = 0.25
_SLACK = 3
_SLACK_PRICE = 0.12
_EMPTY = 0.3
_TEMPO_SPREAD = 0.1
_NEVER = -1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A place where the phrase may lie.

    Attributes:
        starts: seconds in the take at which each bar starts; the end of the last is not among them.
        pace: played seconds per written second, of the first bar.
        score: higher is better.
    """

    starts: tuple[float, ...]
    pace: float
    score: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Channel:
    """One thing to compare: a picture of the take, and what each moment asks of it."""

    picture: Floats
    asked: Floats


def paces(slowest: float, fastest: float) -> Floats:
    """Paces to try, evenly spaced in ratio."""
    count = int(np.ceil(np.log(fastest / slowest) / _PACE_STEP)) + 1
    return np.asarray(slowest * np.exp(np.arange(count) * _PACE_STEP))


def picture(seconds: Floats, weight: Floats, take_seconds: float, before_seconds: float) -> Floats:
    """Onsets blurred over time steps; where they overlap the higher counts. Signed weights are allowed."""
    size = int(np.ceil((take_seconds + before_seconds) / STEP_SECONDS)) + 1
    made = np.zeros(size)
    reach = int(np.ceil(3 * _BLUR_SECONDS / STEP_SECONDS))
    for at, height in zip(seconds + before_seconds, weight, strict=True):
        centre = round(at / STEP_SECONDS)
        low, high = max(0, centre - reach), min(size, centre + reach + 1)
        away = np.arange(low, high) * STEP_SECONDS - at
        bump = height * np.exp(-0.5 * (away / _BLUR_SECONDS) ** 2)
        part = made[low:high]
        np.copyto(part, bump, where=np.abs(bump) > np.abs(part))
    return made


def candidates(
    moments: Moments, channels: tuple[Channel, ...], tried: Floats, *, before_seconds: float, most: int
) -> list[Candidate]:
    """The best places for the phrase, best first.

    Args:
        moments: of the phrase.
        channels: what to compare; the first is whether there is an onset.
        tried: paces, ascending.
        before_seconds: how much silence the pictures have before the take.
        most: how many candidates to give at the most.
    """
    bars = _bar_scores(moments, channels, tried)
    lengths = np.diff(moments.expected.bar_starts)
    last = moments.all[-1].bar
    first = moments.all[0].bar
    best = bars[first] - 0.5 * (np.log(tried)[:, None] / _TEMPO_SPREAD) ** 2
    came: list[tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]] = []
    for bar in range(first + 1, last + 1):
        moved, how = _onward(best, lengths[bar - 1] * tried)
        came.append(how)
        best = bars[bar] + moved
    ends = best.max(axis=0)
    made = []
    for end in _peaks(ends, most):
        place, pace = end, int(np.argmax(best[:, end]))
        path = [end]
        for from_pace, from_place in reversed(came):
            pace, place = int(from_pace[pace, path[-1]]), int(from_place[pace, path[-1]])
            path.append(place)
        starts = np.array(path[::-1]) * STEP_SECONDS - before_seconds
        lead = moments.expected.bar_starts[:first]
        ahead = [float(starts[0] - (moments.expected.bar_starts[first] - one) * tried[pace]) for one in lead]
        made.append(
            Candidate(starts=(*ahead, *map(float, starts)), pace=float(tried[pace]), score=float(ends[path[0]]))
        )
    return made


def _bar_scores(moments: Moments, channels: tuple[Channel, ...], tried: Floats) -> list[Floats]:
    """For every bar, its score at every pace and place of its start."""
    starts = moments.expected.bar_starts
    known: dict[tuple[object, ...], Floats] = {}
    made = []
    for bar in range(len(starts) - 1):
        own = [place for place, one in enumerate(moments.all) if one.bar == bar]
        at = moments.at[own] - starts[bar]
        asked = np.array([[channel.asked[place] for channel in channels] for place in own])
        key = (tuple(np.round(at, 4)), asked.round(3).tobytes())
        if key not in known:
            known[key] = _laid(at, asked.reshape(len(own), len(channels)), channels, tried)
        made.append(known[key])
    return made


def _laid(at: Floats, asked: Floats, channels: tuple[Channel, ...], tried: Floats) -> Floats:
    size = len(channels[0].picture)
    made = np.zeros((len(tried), size))
    for row, pace in enumerate(tried):
        for place, seconds in enumerate(at):
            shift = round(seconds * pace / STEP_SECONDS)
            for number, channel in enumerate(channels):
                if asked[place, number]:
                    if 0 <= shift < size:
                        made[row, : size - shift] += asked[place, number] * channel.picture[shift:]
                    elif -size < shift < 0:
                        made[row, -shift:] += asked[place, number] * channel.picture[:shift]
    return np.asarray(made - _EMPTY * asked[:, 0].sum())


def _onward(
    best: Floats, lengths: Floats
) -> tuple[Floats, tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]]:
    """The best score up to every pace and start of the next bar, and where it came from."""
    rows, size = best.shape
    moved = np.full((rows, size), _NEVER)
    from_place = np.zeros((rows, size), dtype=np.int32)
    places = np.arange(size)
    for row, length in enumerate(lengths):
        whole = round(length / STEP_SECONDS)
        for slack in range(-_SLACK, _SLACK + 1):
            shift = whole + slack
            if not 0 < shift < size:
                continue
            score = best[row, : size - shift] - _SLACK_PRICE * abs(slack)
            better = score > moved[row, shift:]
            np.copyto(moved[row, shift:], score, where=better)
            np.copyto(from_place[row, shift:], places[: size - shift], where=better)
    made = moved.copy()
    from_pace = np.repeat(np.arange(rows, dtype=np.int32)[:, None], size, axis=1)
    place_of = from_place.copy()
    for bend in range(-_BENDS, _BENDS + 1):
        here = slice(max(0, bend), rows + min(0, bend))
        there = slice(max(0, -bend), rows + min(0, -bend))
        score = moved[there] - _BEND_PRICE * abs(bend)
        better = score > made[here]
        np.copyto(made[here], score, where=better)
        np.copyto(from_pace[here], np.arange(rows, dtype=np.int32)[there, None], where=better)
        np.copyto(place_of[here], from_place[there], where=better)
    return made, (from_pace, place_of)


def _peaks(ends: Floats, most: int) -> list[int]:
    """The highest places, at least 60 ms apart."""
    near = round(0.06 / STEP_SECONDS)
    left = ends.copy()
    made: list[int] = []
    while len(made) < most:
        place = int(np.argmax(left))
        if left[place] <= _NEVER / 2:
            break
        made.append(place)
        left[max(0, place - near) : place + near + 1] = _NEVER
    return made
