"""The landing against the player's own pulse: a line through the strokes of the last beats, drawn on to beat 1.

The error is that of the prediction: what the line's strokes scatter by, and how far beat 1 is from them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from fillwright.listen.report.measures import select_main_strokes
from fillwright.listen.report.values.strokes import StrokeReport
from fillwright.listen.report.values.touch import PulseLag
from fillwright.listen.written import WrittenPhrase

# All ours, not measured.
_BEATS = 4.0  # before the landing that show the pulse
_LEAST_MOMENTS = 5  # in them
_LEAST_DEVIATION_MS = 6.0  # of a player: fewer strokes may agree by chance
_SOUND_MS = 5.0  # standard deviation of the attack latency of a cymbal against a drum's


def measure_pulse(
    phrase: WrittenPhrase, strokes: Sequence[StrokeReport], after_seconds: float = -np.inf
) -> PulseLag | None:
    """Return the lag of a repetition's landing against the pulse before it; None with too few strokes.

    Args:
        phrase: as written.
        strokes: of one repetition.
        after_seconds: written time of the last break of the flow; strokes before it don't count.
    """
    landing = [
        stroke.played_seconds
        for stroke in select_main_strokes(strokes)
        if stroke.landing and stroke.lag_ms is not None and stroke.played_seconds is not None
    ]
    ends = [phrase.strokes[stroke.index].seconds for stroke in strokes if stroke.landing and not stroke.grace]
    if not landing or not ends:
        return None
    end = min(ends)
    start = max(end - _BEATS * 60 / phrase.tempo - 1e-6, after_seconds - 1e-6)
    played: dict[float, list[float]] = {}
    for stroke in select_main_strokes(strokes):
        seconds = phrase.strokes[stroke.index].seconds
        if start <= seconds < end - 1e-6 and stroke.lag_ms is not None and stroke.played_seconds is not None:
            played.setdefault(seconds, []).append(stroke.played_seconds)
    if len(played) < _LEAST_MOMENTS:
        return None
    written = np.array(sorted(played))
    taken = np.array([np.mean(played[seconds]) for seconds in written])
    slope, first = np.polyfit(written - end, taken, 1)
    residuals = 1000 * (taken - first - slope * (written - end))
    free = max(1, len(written) - 2)
    deviation = max(_LEAST_DEVIATION_MS, float(np.sqrt(residuals @ residuals / free)))
    away = (end - written.mean()) ** 2 / float(np.square(written - written.mean()).sum())
    error = deviation * float(np.sqrt(1 + 1 / len(written) + away))
    return PulseLag(
        lag_ms=1000 * (float(np.mean(landing)) - float(first)), error_ms=float(np.hypot(error, _SOUND_MS))
    )


def average_pulse(lags: Iterable[PulseLag | None]) -> PulseLag | None:
    """Return the mean of the landings of several repetitions, weighted by certainty; None without any."""
    known = [lag for lag in lags if lag is not None]
    if not known:
        return None
    weights = np.array([lag.error_ms**-2 for lag in known])
    values = np.array([lag.lag_ms for lag in known])
    mean = float(weights @ values / weights.sum())
    spread = float(np.std(values, ddof=1) / len(values) ** 0.5) if len(values) > 1 else 0.0
    return PulseLag(lag_ms=mean, error_ms=max(float(weights.sum()) ** -0.5, spread, _SOUND_MS))
