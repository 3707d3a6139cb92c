"""The next tempo to practise at: always one of the ladder, if the fill has one."""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.listen.limits import get_limit
from fillwright.listen.report.faults import Severity
from fillwright.listen.report.model import Report

_SAME_BPM = 0.5  # tempos this near are the same: they are printed as whole numbers

NextTempo = tuple[str, int]
"""Key of the sentence, in `sentences.toml` under [next], and the tempo in bpm."""


def choose_next(report: Report, severity: Severity, ladder: Sequence[int]) -> NextTempo:
    """Return the tempo to practise at next and the key of its sentence.

    Args:
        report: on a take that is scored.
        severity: of the first fault.
        ladder: the tempos of the fill, slow to fast; empty without a ladder.
    """
    target = report.tempo_target
    now = report.tempo_played or target
    missed = abs(now / target - 1) * 100 > get_limit("time.other_tempo_percent")
    if missed and severity is Severity.NONE:
        return choose_target(report, ladder)
    now = now if missed else target
    base = min(now, target)
    if severity is Severity.MUCH:
        return _name_direction(_step_down(base, get_limit("tempo.much"), ladder), now, "much_slower", "slowest")
    if severity is Severity.SOME:
        return _name_direction(_step_down(base, get_limit("tempo.some"), ladder), now, "slower", "slowest")
    if severity is Severity.DETAIL:
        return _name_direction(_snap(base, ladder), now, "slower", "same")
    higher = [tempo for tempo in ladder if tempo > base + _SAME_BPM]
    if ladder and not higher:
        return "top", ladder[-1]
    return "faster", higher[0] if higher else round(base * get_limit("tempo.on"))


def choose_target(report: Report, ladder: Sequence[int]) -> NextTempo:
    """Return the target tempo, or the nearest of the ladder, for a take at another tempo; and its sentence."""
    target = report.tempo_target
    tempo = min(ladder, key=lambda step: abs(step - target)) if ladder else round(target)
    played = report.tempo_played
    return ("slow_to_target" if played is not None and tempo < played - _SAME_BPM else "target"), tempo


def choose_slow_tempo(report: Report, ladder: Sequence[int]) -> int:
    """Return a slower tempo than the target, in bpm; the slowest of the ladder if there is none below."""
    return _step_down(report.tempo_target, get_limit("tempo.much"), ladder)


def _name_direction(tempo: int, now: float, below: str, same: str) -> NextTempo:
    """Return the tempo with the key that says how it compares with the tempo of the take."""
    if tempo < now - _SAME_BPM:
        return below, tempo
    return ("up" if tempo > now + _SAME_BPM else same), tempo


def _snap(bpm: float, ladder: Sequence[int]) -> int:
    """Return the fastest tempo of the ladder that is not above a tempo, else the slowest."""
    below = [tempo for tempo in ladder if tempo <= bpm + _SAME_BPM]
    if below:
        return below[-1]
    return ladder[0] if ladder else round(bpm)


def _step_down(bpm: float, share: float, ladder: Sequence[int]) -> int:
    """Return the fastest tempo of the ladder up to a share of a tempo, else the slowest."""
    return _snap(bpm * share, ladder)
