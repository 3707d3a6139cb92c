"""From a phrase laid on a take to what became of every written stroke of one time through."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.attacks import Sound, late
from fillwright.listen.alignment.electronic import strokes_by_surface
from fillwright.listen.alignment.levels import clearly_loudest
from fillwright.listen.alignment.model import AlignedStroke, Outcome, Repetition
from fillwright.listen.alignment.moments import Moment
from fillwright.listen.alignment.repetitions import Ground, Laid
from fillwright.listen.alignment.surface_estimate import NOTHING, Told, told
from fillwright.listen.alignment.templates import Colours
from fillwright.listen.alignment.tempo_map import BarMap, Evidence, fitted
from fillwright.listen.limits import get_limit

Floats = npt.NDArray[np.float64]

_RUSH_PRIOR = 0.12
_FAINT_WEIGHT = 0.2
_ON_BEAT_SECONDS = 0.04
_LEAST_IN_FILL, _LEAST_IN_GROOVE = 3, 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Known:
    """What a take has taught.

    Attributes:
        colours: of its sounds; None where it has none.
        lags: how late each sound's attack is heard.
        carries: how loud each surface comes through.
        usual: level of each surface's taps.
        unheard: moments too like others that were not heard to call them missing, by what `kind` says.
    """

    colours: Colours | None
    lags: Mapping[Sound, float]
    carries: Mapping[str, float]
    usual: Mapping[str, float]
    unheard: frozenset[object]


def kind(base: Ground, place: int) -> object:
    """What a moment has in common with those that are as easy or hard to hear."""
    moment = base.plan.all[place]
    before = moment.seconds - base.plan.at[place - 1] if place else np.inf
    return moment.surfaces, moment.velocity < 60, before < 0.13


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turn:
    """One time through: onsets by written stroke, and the map fitted to them.

    Attributes:
        pass_: as others see it.
        used: numbers of the onsets that belong to it, counted as the hearing counts.
    """

    pass_: Repetition
    used: frozenset[int]


def turn(base: Ground, one: Laid, known: Known) -> Turn:
    """What became of every written stroke of one time through."""
    onsets = _onsets(base, one)
    fit = _final_map(base, one, onsets, known)
    onsets = _landed(base, fit, onsets)
    teller = _Teller(base=base, fit=fit, onsets=onsets, known=known)
    strokes: dict[int, AlignedStroke] = {}
    for place, moment in enumerate(base.plan.all):
        strokes |= teller.moment(place, moment)
    made = Repetition(
        start_seconds=float(fit.played(np.zeros(1))[0]),
        strokes=tuple(strokes[index] for index in range(len(base.plan.expected.strokes))),
        bar_starts=tuple(float(x) for x in fit.played(base.layout.bounds)),
        groove_tempo=base.plan.expected.tempo / fit.pace(*_groove(base)),
        **_rush(base, fit, onsets),
    )
    return Turn(pass_=made, used=frozenset(onsets.values()))


def _onsets(base: Ground, one: Laid) -> dict[int, int]:
    """By written stroke, its onset; main notes at one moment share one except on an electronic kit."""
    if base.ears.heard.from_midi:
        return strokes_by_surface(base, one.map, float(np.clip(1.4 * one.map.scatter_seconds, 0.008, 0.025)))
    made: dict[int, int] = {}
    for moment, onset, graces in zip(base.plan.all, one.pairs.mains, one.pairs.graces, strict=True):
        if onset >= 0:
            made |= dict.fromkeys(moment.mains, onset)
            made |= dict(zip(moment.graces[::-1], graces[::-1], strict=False))
    return made


def _final_map(base: Ground, one: Laid, onsets: Mapping[int, int], known: Known) -> BarMap:
    """The map fitted once more, attack times of sounds taken out, with a fill free to rush."""
    written, played, weight = [], [], []
    seen = set()
    for moment in base.plan.all:
        for index in moment.mains:
            onset = onsets.get(index)
            if onset is None or onset in seen:
                continue
            seen.add(onset)
            written.append(moment.seconds)
            played.append(base.ears.seconds[onset] - late(known.lags, moment))
            weight.append(_FAINT_WEIGHT if base.ears.faint[onset] else 1.0)
    evidence = Evidence(written=np.array(written), played=np.array(played), weight=np.array(weight))
    rush = _RUSH_PRIOR if _rushable(base, onsets) else 0.0
    return fitted(base.layout, evidence, one.map if rush else one.map.with_rush(0.0), rush_prior=rush)


def _landed(base: Ground, fit: BarMap, onsets: Mapping[int, int]) -> dict[int, int]:
    """The onsets; a landing far from its place goes to a louder stroke on beat 1 that nobody wrote."""
    ears, made = base.ears, dict(onsets)
    if ears.heard.from_midi:
        return made
    used = np.isin(np.arange(len(ears)), list(onsets.values())) | ears.faint
    for moment in base.plan.all:
        own = {onsets[index] for index in moment.mains if index in onsets}
        if not moment.landing or len(own) != 1:
            continue
        (onset,) = own
        at = np.array([moment.seconds])
        places = np.append(fit.played(at), fit.groove(at))
        if abs(ears.seconds[onset] - places[0]) * 1000 <= get_limit("phrase.landing_ms"):
            continue
        near = np.abs(ears.seconds[:, None] - places).min(axis=1) <= _ON_BEAT_SECONDS
        louder = np.flatnonzero(near & ~used & (ears.loudness_db > ears.loudness_db[onset]))
        if len(louder):
            best = int(louder[np.argmax(ears.loudness_db[louder])])
            made |= dict.fromkeys((index for index in moment.mains if index in onsets), best)
    return made


def _groove(base: Ground) -> tuple[float, float]:
    """Where the groove before the fill lies; the whole phrase where there is none."""
    bounds, fills = base.layout.bounds, base.plan.fills
    first = float(base.plan.at[0])
    if fills and fills[0][0] > first:
        return first, fills[0][0]
    return float(bounds[0]), float(bounds[-1])


def _rushable(base: Ground, onsets: Mapping[int, int]) -> bool:
    """Whether there are strokes enough in the fill, and in a groove before it, to tell a rush."""
    filled = [one for one in base.plan.all if one.in_fill and any(index in onsets for index in one.mains)]
    if len(filled) < _LEAST_IN_FILL:
        return False
    start = filled[0].seconds
    before = [
        one for one in base.plan.all if one.seconds < start and any(index in onsets for index in one.mains)
    ]
    return len(before) >= _LEAST_IN_GROOVE


def _rush(base: Ground, fit: BarMap, onsets: Mapping[int, int]) -> dict[str, float]:
    if not _rushable(base, onsets):
        return {}
    start, end = base.plan.fills[-1]
    pace = fit.pace(start, end)
    rushed = pace + float(fit.unknowns[-1])
    return {
        "fill_rush_percent": 100 * (pace / rushed - 1),
        "fill_rush_error_percent": 100 * pace / rushed**2 * fit.rush_deviation,
    }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Teller:
    """Tells what became of each moment."""

    base: Ground
    fit: BarMap
    onsets: Mapping[int, int]
    known: Known

    def moment(self, place: int, moment: Moment) -> dict[int, AlignedStroke]:
        """What became of the strokes of a moment, grace notes included."""
        found = [self.onsets[index] for index in moment.mains if index in self.onsets]
        if not found:
            outcome = Outcome.NOT_AUDIBLE if kind(self.base, place) in self.known.unheard else Outcome.MISSING
            return {index: self._gone(index, outcome) for index in (*moment.mains, *moment.graces)}
        said = self._said(moment, found[0])
        made = {index: self._main(index, moment, said) for index in moment.mains}
        return made | {index: self._grace(index, moment) for index in moment.graces}

    def _said(self, moment: Moment, onset: int) -> Told:
        if self.known.colours is None or self.base.ears.heard.from_midi:
            return NOTHING
        return told(self.known.colours, moment, onset)

    def _main(self, index: int, moment: Moment, said: Told) -> AlignedStroke:
        stroke = self.base.plan.expected.strokes[index]
        if index not in self.onsets or stroke.surface in said.absent:
            return self._gone(index, Outcome.MISSING)
        onset = self.onsets[index]
        if self.base.ears.heard.from_midi:
            sounds, trust = self.base.ears.surfaces[onset], 1.0
        else:
            sounds = said.surfaces.get(stroke.surface, "")
            trust = said.confidence if sounds else 0.0
        return self._heard(
            index, onset, late(self.known.lags, moment), (sounds, trust, self._level(index, moment))
        )

    def _level(self, index: int, moment: Moment) -> float | None:
        stroke = self.base.plan.expected.strokes[index]
        alone = self.base.ears.heard.from_midi
        if not alone and index != clearly_loudest(moment, self.base.plan.expected, self.known.carries):
            return None
        usual = self.known.usual.get(stroke.surface)
        return None if usual is None else float(self.base.ears.loudness_db[self.onsets[index]]) - usual

    def _grace(self, index: int, moment: Moment) -> AlignedStroke:
        if index not in self.onsets:
            midi = self.base.ears.heard.from_midi
            return self._gone(index, Outcome.MISSING if midi else Outcome.NOT_AUDIBLE)
        onset = self.onsets[index]
        stroke = self.base.plan.expected.strokes[index]
        sounds = self.base.ears.surfaces[onset]
        usual = self.known.usual.get(stroke.surface)
        level = None if usual is None else float(self.base.ears.loudness_db[onset]) - usual
        return self._heard(index, onset, late(self.known.lags, moment), (sounds, float(bool(sounds)), level))

    def _heard(self, index: int, onset: int, lag: float, about: tuple[str, float, float | None]) -> AlignedStroke:
        ears = self.base.ears
        sounds, trust, level = about
        played = float(ears.seconds[onset]) - lag
        unsure = bool(ears.faint[onset])
        away = played - self._place(index, groove=True)
        return AlignedStroke(
            written=index,
            outcome=Outcome.TIMING_UNCERTAIN if unsure else Outcome.PLAYED,
            expected_seconds=self._place(index),
            onset=None if unsure else int(ears.index[onset]),
            played_seconds=played,
            lag_ms=None if unsure else 1000 * away,
            surface_played=sounds,
            surface_confidence=trust,
            loudness_db=level,
        )

    def _gone(self, index: int, outcome: Outcome) -> AlignedStroke:
        return AlignedStroke(written=index, outcome=outcome, expected_seconds=self._place(index))

    def _place(self, index: int, *, groove: bool = False) -> float:
        """Where a stroke belongs; a grace note as far ahead of its main note as it is written."""
        strokes = self.base.plan.expected.strokes
        one = strokes[index]
        main = one if one.grace_of is None else strokes[one.grace_of]
        at = np.array([main.seconds])
        place = float((self.fit.groove(at) if groove else self.fit.played(at))[0])
        return place - (main.seconds - one.seconds)
