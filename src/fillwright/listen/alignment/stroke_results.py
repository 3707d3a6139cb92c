"""The outcome of every written stroke of one repetition: from a fit to an aligned repetition."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.audibility import classify_audibility
from fillwright.listen.alignment.flow import FlowFit, list_end_breaks
from fillwright.listen.alignment.model import AlignedStroke, BreakKind, FlowBreak, Outcome, Repetition
from fillwright.listen.alignment.moments import Moment
from fillwright.listen.alignment.repetitions import AlignmentProblem, RepetitionFit, widen_deviation
from fillwright.listen.alignment.surfaces.electronic import assign_by_surface
from fillwright.listen.alignment.surfaces.sound_properties import Sound, find_loudest, get_latency
from fillwright.listen.alignment.surfaces.surface_estimate import (
    NO_ESTIMATE,
    SurfaceEstimate,
    estimate_surfaces,
)
from fillwright.listen.alignment.surfaces.templates import TimbreModel
from fillwright.listen.alignment.tempo_map import StrokeTimes, TempoMap, fit_tempo_map
from fillwright.listen.limits import get_limit

Floats = npt.NDArray[np.float64]

_RUSH_PRIOR = 0.12  # standard deviation of a fill's rush in the last fit, as a change of pace; ours
_FAINT_WEIGHT = 0.2  # of a faint onset in the tempo map, against 1; ours, not measured
_LANDING_WEIGHT = 0.1  # of the landing, so that one off its place is not taken for a rush; ours, not measured
_ON_BEAT_SECONDS = 0.04  # from beat 1, within which a stroke may be the landing; ours, not measured
_LEAST_IN_FILL, _LEAST_IN_GROOVE = 3, 4  # moments played, from which a rush is measured; ours, not measured
_BEFORE_SECONDS = 0.001  # before the take begins, in written time: rounding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LearnedSounds:
    """The sounds of a take, learned from its fits.

    Attributes:
        timbres: templates; None if it has none.
        latencies: attack latency by sound, in seconds.
        surface_loudness: how loud each surface comes through, in dB.
        tap_loudness: median loudness of each surface's taps, in dB.
        inaudible: kinds of moments, as `classify_audibility` returns them, too often undetected to be called
            missing.
    """

    timbres: TimbreModel | None
    latencies: Mapping[Sound, float]
    surface_loudness: Mapping[str, float]
    tap_loudness: Mapping[str, float]
    inaudible: frozenset[object]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RepetitionResult:
    """An aligned repetition and its onsets.

    Attributes:
        repetition: with the outcome of every stroke.
        used: numbers of its onsets in the take's onset arrays.
    """

    repetition: Repetition
    used: frozenset[int]


def resolve_repetition(flow: FlowFit, sounds: LearnedSounds) -> RepetitionResult:
    """Determine the outcome of every written stroke of one repetition."""
    problem, fit = flow.problem, flow.fit
    onsets = _list_onsets(problem, fit)
    tempo_map = _fit_final_map(problem, fit, onsets, sounds)
    onsets = _correct_landing(problem, tempo_map, onsets)
    ends = list_end_breaks(problem, fit)
    joined = [end.written_seconds for end in ends if end.kind is BreakKind.JOINED_LATE]
    resolver = _StrokeResolver(
        problem=problem,
        tempo_map=tempo_map,
        onsets=onsets,
        sounds=sounds,
        from_seconds=joined[0] if joined else -np.inf,
    )
    strokes: dict[int, AlignedStroke] = {}
    for moment_index, moment in enumerate(problem.moments.all):
        strokes |= resolver.resolve_moment(moment_index, moment)
    written = problem.moments.written
    rush = _measure_rush(problem, tempo_map, onsets)
    repetition = Repetition(
        start_seconds=float(tempo_map.map_to_take(np.zeros(1))[0]),
        strokes=tuple(strokes[index] for index in range(len(written.strokes))),
        bar_starts=tuple(float(seconds) for seconds in tempo_map.map_to_take(problem.segments.bounds)),
        groove_tempo=written.tempo / tempo_map.calculate_pace(*_find_groove(problem)),
        fill_rush_percent=rush[0] if rush else None,
        fill_rush_error_percent=rush[1] if rush else None,
        breaks=tuple(
            sorted(
                (*_measure_breaks(flow, tempo_map), *ends), key=lambda flow_break: flow_break.written_seconds
            )
        ),
    )
    return RepetitionResult(repetition=repetition, used=frozenset(onsets.values()))


def _list_onsets(problem: AlignmentProblem, fit: RepetitionFit) -> dict[int, int]:
    """Return the onset of each written stroke; main notes of a moment share one except on an electronic kit."""
    if problem.onsets.take.from_midi:
        return assign_by_surface(problem, fit.tempo_map, widen_deviation(fit.tempo_map))
    onsets: dict[int, int] = {}
    assignment = fit.assignment
    for moment, onset, graces in zip(problem.moments.all, assignment.mains, assignment.graces, strict=True):
        if onset >= 0:
            onsets |= dict.fromkeys(moment.mains, onset)
            onsets |= dict(zip(moment.graces[::-1], graces[::-1], strict=False))
    return onsets


def _fit_final_map(
    problem: AlignmentProblem, fit: RepetitionFit, onsets: Mapping[int, int], sounds: LearnedSounds
) -> TempoMap:
    """Fit the tempo map once more, attack latencies removed, with a fill that may rush."""
    written, played, weight = [], [], []
    seen = set()
    for moment in problem.moments.all:
        for index in moment.mains:
            onset = onsets.get(index)
            if onset is None or onset in seen:
                continue
            seen.add(onset)
            written.append(moment.seconds)
            played.append(problem.onsets.seconds[onset] - get_latency(sounds.latencies, moment))
            unsure = _FAINT_WEIGHT if problem.onsets.faint[onset] else 1.0
            weight.append(min(unsure, _LANDING_WEIGHT) if moment.landing else unsure)
    times = StrokeTimes(written=np.array(written), played=np.array(played), weight=np.array(weight))
    rush = _RUSH_PRIOR if _has_measurable_rush(problem, onsets) else 0.0
    guess = fit.tempo_map if rush else fit.tempo_map.replace_rush(0.0)
    return fit_tempo_map(problem.segments, times, guess, rush_prior=rush)


def _correct_landing(
    problem: AlignmentProblem, tempo_map: TempoMap, onsets: Mapping[int, int]
) -> dict[int, int]:
    """Return the onsets; a landing far from its place moves to a louder extra stroke on beat 1."""
    arrays, corrected = problem.onsets, dict(onsets)
    if arrays.take.from_midi:
        return corrected
    used = np.isin(np.arange(len(arrays)), list(onsets.values())) | arrays.faint
    for moment in problem.moments.all:
        moment_onsets = {onsets[index] for index in moment.mains if index in onsets}
        if not moment.landing or len(moment_onsets) != 1:
            continue
        (onset,) = moment_onsets
        seconds = np.array([moment.seconds])
        expected = np.append(tempo_map.map_to_take(seconds), tempo_map.map_to_groove(seconds))
        if abs(arrays.seconds[onset] - expected[0]) * 1000 <= get_limit("phrase.landing_ms"):
            continue
        near = np.abs(arrays.seconds[:, None] - expected).min(axis=1) <= _ON_BEAT_SECONDS
        louder = np.flatnonzero(near & ~used & (arrays.loudness_db > arrays.loudness_db[onset]))
        if len(louder):
            best = int(louder[np.argmax(arrays.loudness_db[louder])])
            corrected |= dict.fromkeys((index for index in moment.mains if index in onsets), best)
    return corrected


def _measure_breaks(flow: FlowFit, tempo_map: TempoMap) -> list[FlowBreak]:
    """Return the breaks inside a repetition, their time as the fitted map gives it.

    The phrase that was fitted has the rough time of each break in it. What its strokes are off on average, from
    one side to the other, corrects it.
    """
    added = 0.0
    measured = []
    moments = flow.problem.moments.seconds
    for flow_break in sorted(flow.breaks, key=lambda one: one.written_seconds):
        pace = tempo_map.calculate_pace(*flow.problem.segments.bounds[[0, -1]])
        added += flow_break.seconds / pace
        after = flow_break.written_seconds + added
        off = []
        for side in (moments < after - 1e-6, moments >= after - 1e-6):
            numbers = np.flatnonzero(side)
            expected = tempo_map.map_to_take(moments[numbers])
            lags = [
                flow.problem.onsets.seconds[flow.fit.assignment.mains[number]] - seconds
                for number, seconds in zip(numbers, expected, strict=True)
                if flow.fit.assignment.mains[number] >= 0
            ]
            off.append(float(np.median(lags)) if lags else 0.0)
        measured.append(replace(flow_break, seconds=flow_break.seconds + off[1] - off[0]))
    return measured


def _find_groove(problem: AlignmentProblem) -> tuple[float, float]:
    """Return the span of the groove before the fill in written seconds; the whole phrase without one."""
    bounds, fills = problem.segments.bounds, problem.moments.fills
    first = float(problem.moments.seconds[0])
    if fills and fills[0][0] > first:
        return first, fills[0][0]
    return float(bounds[0]), float(bounds[-1])


def _has_measurable_rush(problem: AlignmentProblem, onsets: Mapping[int, int]) -> bool:
    """Return True if enough moments were played in the fill and in a groove before it."""
    played = [moment for moment in problem.moments.all if any(index in onsets for index in moment.mains)]
    in_fill = [moment for moment in played if moment.in_fill]
    if len(in_fill) < _LEAST_IN_FILL:
        return False
    before = [moment for moment in played if moment.seconds < in_fill[0].seconds]
    return len(before) >= _LEAST_IN_GROOVE


def _measure_rush(
    problem: AlignmentProblem, tempo_map: TempoMap, onsets: Mapping[int, int]
) -> tuple[float, float] | None:
    """Return the rush of the fill and its standard error, in percent; None with too few strokes."""
    if not _has_measurable_rush(problem, onsets):
        return None
    start, end = problem.moments.fills[-1]
    pace = tempo_map.calculate_pace(start, end)
    rushed = pace + float(tempo_map.parameters[-1])
    return 100 * (pace / rushed - 1), 100 * pace / rushed**2 * tempo_map.rush_error


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _StrokeResolver:
    """Determines the outcome of each stroke of a repetition; the take begins at the written `from_seconds`."""

    problem: AlignmentProblem
    tempo_map: TempoMap
    onsets: Mapping[int, int]
    sounds: LearnedSounds
    from_seconds: float = -np.inf

    @property
    def from_midi(self) -> bool:
        """True for an electronic kit."""
        return self.problem.onsets.take.from_midi

    def resolve_moment(self, moment_index: int, moment: Moment) -> dict[int, AlignedStroke]:
        """Return the outcomes of a moment's strokes by index, grace notes included."""
        onsets = [self.onsets[index] for index in moment.mains if index in self.onsets]
        if not onsets:
            inaudible = classify_audibility(self.problem, moment_index) in self.sounds.inaudible
            inaudible = inaudible or moment.seconds < self.from_seconds - _BEFORE_SECONDS
            outcome = Outcome.NOT_AUDIBLE if inaudible else Outcome.MISSING
            return {index: self._build_absent(index, outcome) for index in (*moment.mains, *moment.graces)}
        estimate = self._estimate_surfaces(moment, onsets[0])
        strokes = {index: self._resolve_main(index, moment, estimate) for index in moment.mains}
        return strokes | {index: self._resolve_grace(index, moment) for index in moment.graces}

    def _estimate_surfaces(self, moment: Moment, onset: int) -> SurfaceEstimate:
        if self.sounds.timbres is None or self.from_midi:
            return NO_ESTIMATE
        return estimate_surfaces(self.sounds.timbres, moment, onset)

    def _resolve_main(self, index: int, moment: Moment, estimate: SurfaceEstimate) -> AlignedStroke:
        written = self.problem.moments.written
        surface = written.strokes[index].surface
        if index not in self.onsets or surface in estimate.absent:
            return self._build_absent(index, Outcome.MISSING)
        if self.from_midi:
            played, confidence = self.problem.onsets.surfaces[self.onsets[index]], 1.0
        else:
            played = estimate.played.get(surface, "")
            confidence = estimate.confidence if played else 0.0
        is_loudest = self.from_midi or index == find_loudest(moment, written, self.sounds.surface_loudness)
        loudness = self._compare_loudness(index) if is_loudest else None
        return self._build_detected(index, moment, (played, confidence, loudness))

    def _compare_loudness(self, index: int) -> float | None:
        """Return the loudness of a stroke in dB against the usual tap of its surface; None if unknown."""
        usual = self.sounds.tap_loudness.get(self.problem.moments.written.strokes[index].surface)
        return None if usual is None else float(self.problem.onsets.loudness_db[self.onsets[index]]) - usual

    def _resolve_grace(self, index: int, moment: Moment) -> AlignedStroke:
        if index not in self.onsets:
            return self._build_absent(index, Outcome.MISSING if self.from_midi else Outcome.NOT_AUDIBLE)
        played = self.problem.onsets.surfaces[self.onsets[index]]
        return self._build_detected(index, moment, (played, float(bool(played)), self._compare_loudness(index)))

    def _build_detected(
        self, index: int, moment: Moment, measures: tuple[str, float, float | None]
    ) -> AlignedStroke:
        """Build a detected stroke from its surface, the confidence of that and its loudness."""
        arrays, onset = self.problem.onsets, self.onsets[index]
        surface, confidence, loudness = measures
        played = float(arrays.seconds[onset]) - get_latency(self.sounds.latencies, moment)
        uncertain = bool(arrays.faint[onset])
        away = played - self._expect_seconds(index, by_groove=True)
        return AlignedStroke(
            written=index,
            outcome=Outcome.TIMING_UNCERTAIN if uncertain else Outcome.PLAYED,
            expected_seconds=self._expect_seconds(index),
            onset=None if uncertain else int(arrays.index[onset]),
            played_seconds=played,
            lag_ms=None if uncertain else 1000 * away,
            surface_played=surface,
            surface_confidence=confidence,
            loudness_db=loudness,
        )

    def _build_absent(self, index: int, outcome: Outcome) -> AlignedStroke:
        return AlignedStroke(written=index, outcome=outcome, expected_seconds=self._expect_seconds(index))

    def _expect_seconds(self, index: int, *, by_groove: bool = False) -> float:
        """Return the expected time of a stroke; of a grace note, as long before its main note as written."""
        strokes = self.problem.moments.written.strokes
        stroke = strokes[index]
        main = stroke if stroke.grace_of is None else strokes[stroke.grace_of]
        seconds = np.array([main.seconds])
        mapped = self.tempo_map.map_to_groove(seconds) if by_groove else self.tempo_map.map_to_take(seconds)
        return float(mapped[0]) - (main.seconds - stroke.seconds)
