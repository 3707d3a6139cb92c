"""Lay a take against what is written: where it starts, how its tempo runs, which onset is which stroke.

Idea: candidates over place and tempo (`search`), each laid on the onsets by dynamic programming (`assign`) in
turn with a map of the bars' paces (`barmap`); the times through that explain the take best together (`passes`);
colours and attack times learned from that match (`colours`, `attacks`) and used in a second one; then what
became of every stroke (`turns`). A fit that explains too little of the phrase or of the take is refused.

Pure: the same arguments give the same match. Conventions: an onset belongs to one moment of one time through.
Strokes written at one moment share its onset unless an electronic kit tells them apart, and so does a landing
with the first beat of the next time through where the player goes straight on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from fillwright.listen.alignment.attacks import attack_lags
from fillwright.listen.alignment.extras import extras
from fillwright.listen.alignment.incomplete import ends_before_fill
from fillwright.listen.alignment.levels import Met, carrying, usual_taps
from fillwright.listen.alignment.model import Alignment, Outcome
from fillwright.listen.alignment.moments import Moment, moments
from fillwright.listen.alignment.onset_arrays import hearing
from fillwright.listen.alignment.repetitions import FASTEST, SLOWEST, Ground, Laid, found, ground, refined
from fillwright.listen.alignment.stroke_results import Known, kind, turn
from fillwright.listen.alignment.templates import Colours, learned
from fillwright.listen.calibration import Calibration
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.written import WrittenPhrase

Floats = npt.NDArray[np.float64]

_LEAST_ONSETS = 0.35
_SHORTEST = 0.5
_SILENT_DB, _SILENT_ABOVE_DB = -70.0, 3.0
_NOISY_ABOVE_DB = 15.0
_FULL, _FULL_CLEAN = 0.8, 0.65
_PART, _PART_CLEAN = 0.6, 0.8
_FILL_SIZE, _FILL = 4, 0.55
_AS_FULL = 0.8
_WIDEST, _WIDEST_CLEAN = (0.45, 2.2), 0.8
_NOT_HEARD = 0.25
_COLOUR_PRICE, _MOST_COLOUR_PRICE, _STRANGE_PRICE = 0.04, 3.0, 0.5


def align_take(expected: WrittenPhrase, heard: DetectedTake, *, calibration: Calibration | None = None) -> Alignment:
    """The take laid against the written phrase.

    Args:
        expected: what is written, at the tempo asked for.
        heard: what was heard.
        calibration: how the kit's drums sound by themselves; without one no other surface is told with trust.
    """
    plan, ears = moments(expected), hearing(heard)
    hopeless = _hopeless(expected, heard, len(plan.all))
    if hopeless:
        return Alignment(repetitions=(), refused=hopeless)
    base = ground(plan, ears)
    tried = [refined(base, one) for one in found(base)]
    kept = _as_full([one for one in tried if accepted(base, one)])
    if ends_before_fill(base, kept):
        return Alignment(repetitions=(), refused="no fill", tempo_found=_tempo(base, kept) if kept else None)
    if not kept:
        return _refused(base, tried)
    colours = _colours(base, kept, calibration)
    if colours is not None:
        base = replace(base, colours=_priced(base, colours))
        kept = [refined(base, one) for one in kept]
        colours = _colours(base, kept, calibration)
    return _told(base, kept, _known(base, kept, colours))


def _hopeless(expected: WrittenPhrase, heard: DetectedTake, count: int) -> str:
    """Why a take can't be matched at all, in a word; "" where it may be."""
    above = heard.loudest_db - heard.noise_db
    silent = not heard.from_midi and (heard.loudest_db < _SILENT_DB or above < _SILENT_ABOVE_DB)
    if not heard.onsets or silent:
        return "silence"
    length = expected.bar_starts[-1]
    if heard.seconds < _SHORTEST * length or len(heard.onsets) < _LEAST_ONSETS * count:
        return "too short"
    return ""


def accepted(base: Ground, one: Laid, least_clean: float = _FULL_CLEAN) -> bool:
    """Whether a time through explains enough of the phrase, and of what was heard meanwhile."""
    full = one.matched / len(base.plan.all)
    filled = [onset >= 0 for m, onset in zip(base.plan.all, one.pairs.mains, strict=True) if m.in_fill]
    if len(filled) >= _FILL_SIZE and sum(filled) < _FILL * len(filled):
        return False
    places = one.map.played(base.plan.at)
    seconds = base.ears.seconds
    inside = (seconds > places[0] - 0.05) & (seconds < places[-1] + 0.05)
    inside &= ~base.ears.faint & ~base.ears.doubtful
    for low, high in base.plan.bouncing(places):
        inside &= (seconds < low + 0.01) | (seconds > high)
    taken = {*one.pairs.mains, *(each for own in one.pairs.graces for each in own)} - {-1}
    heard = float(base.ears.confidence[inside].sum())
    sure = sum(float(base.ears.confidence[each]) for each in taken if inside[each])
    clean = sure / heard if heard else 0.0
    if base.ears.heard.from_midi:
        clean *= len(base.plan.expected.strokes) / (len(base.plan.all) + sum(map(len, base.plan.ahead)))
    return (full >= _FULL and clean >= least_clean) or (full >= _PART and clean >= _PART_CLEAN)


def _as_full(kept: Sequence[Laid]) -> list[Laid]:
    """The times through that are nearly as full as the fullest: a false start is none."""
    fullest = max((one.matched for one in kept), default=0)
    return [one for one in kept if one.matched >= _AS_FULL * fullest]


def _refused(base: Ground, tried: Sequence[Laid]) -> Alignment:
    """A match refused, and why: another tempo, noise, or another phrase."""
    expected, heard = base.plan.expected, base.ears.heard
    for slowest, fastest in ((_WIDEST[0], SLOWEST), (FASTEST, _WIDEST[1])):
        other = [refined(base, one) for one in found(base, slowest, fastest)]
        fits = [one for one in other if accepted(base, one, _WIDEST_CLEAN)]
        if fits:
            return Alignment(repetitions=(), refused="tempo", tempo_found=_tempo(base, fits))
    noisy = not heard.from_midi and heard.loudest_db - heard.noise_db < _NOISY_ABOVE_DB
    best = max(tried, key=lambda one: one.worth, default=None)
    return Alignment(
        repetitions=(),
        refused="too noisy" if noisy else "wrong phrase",
        tempo_found=_tempo(base, [best]) if best else expected.tempo,
        share_matched=best.matched / len(base.plan.all) if best else 0.0,
    )


def _tempo(base: Ground, fits: Sequence[Laid]) -> float:
    bounds = base.layout.bounds
    return base.plan.expected.tempo / float(np.mean([one.map.pace(bounds[0], bounds[-1]) for one in fits]))


def _met(base: Ground, kept: Sequence[Laid]) -> list[tuple[Moment, int, float]]:
    """Moments that were heard, with their onsets and how late they were against the map."""
    made = []
    for one in kept:
        places = one.map.played(base.plan.at)
        for moment, onset, place in zip(base.plan.all, one.pairs.mains, places, strict=True):
            if onset >= 0 and not base.ears.faint[onset]:
                made.append((moment, onset, float(base.ears.seconds[onset] - place)))
    return made


def _colours(base: Ground, kept: Sequence[Laid], calibration: Calibration | None) -> Colours | None:
    met = [(moment.surfaces, onset) for moment, onset, _ in _met(base, kept)]
    return learned(base.ears.rows, met, calibration)


def _priced(base: Ground, colours: Colours) -> Floats:
    """What the colour of every onset says against every moment: how much nearer another known one is."""
    known = {one.surfaces: colours.distance(one.surfaces) for one in base.plan.all}
    distances = [one for one in known.values() if one is not None]
    if not distances:
        return np.zeros((len(base.plan.all), len(base.ears)))
    nearest = np.min(distances, axis=0)
    rows = []
    for one in base.plan.all:
        own = known[one.surfaces]
        if own is None:
            rows.append(np.full(len(base.ears), _STRANGE_PRICE))
        else:
            rows.append(np.clip(_COLOUR_PRICE * (own - nearest), 0.0, _MOST_COLOUR_PRICE))
    return np.array(rows)


def _known(base: Ground, kept: Sequence[Laid], colours: Colours | None) -> Known:
    """What the take teaches of its sounds."""
    met = _met(base, kept)
    midi = base.ears.heard.from_midi
    scatter = float(np.median([one.map.scatter_seconds for one in kept]))
    levels: list[Met] = [(moment, float(base.ears.loudness_db[onset])) for moment, onset, _ in met]
    carries = carrying(levels)
    return Known(
        colours=colours,
        lags={} if midi else attack_lags([(moment, away) for moment, _, away in met], scatter),
        carries=carries,
        usual=usual_taps(base.plan.expected, levels, carries),
        unheard=frozenset() if midi else _hard_to_hear(base, kept),
    )


def _hard_to_hear(base: Ground, kept: Sequence[Laid]) -> frozenset[object]:
    """Kinds of moments of which so many were not heard that the take is to blame and not the player."""
    all_, gone = Counter[object](), Counter[object]()
    for one in kept:
        for place, onset in enumerate(one.pairs.mains):
            what = kind(base, place)
            all_[what] += 1
            gone[what] += onset < 0
    return frozenset(what for what, count in gone.items() if (count - 1) / all_[what] > _NOT_HEARD)


def _told(base: Ground, kept: Sequence[Laid], known: Known) -> Alignment:
    turns = [turn(base, one, known) for one in kept]
    passes = tuple(one.pass_ for one in turns)
    mains = [
        stroke
        for one in passes
        for stroke in one.strokes
        if base.plan.expected.strokes[stroke.written].grace_of is None
    ]
    played = sum(stroke.outcome in (Outcome.PLAYED, Outcome.TIMING_UNCERTAIN) for stroke in mains)
    used = frozenset().union(*(one.used for one in turns))
    return Alignment(
        repetitions=passes,
        extra=extras(base, passes, used),
        tempo_found=float(np.mean([one.groove_tempo for one in passes])),
        share_matched=played / len(mains),
    )
