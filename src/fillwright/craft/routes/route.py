"""Routes: a surface for each stroke of a chain, checked against a player and graded."""

from __future__ import annotations

from bisect import bisect
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from fillwright.craft.chains.chain import PlacedStroke
from fillwright.craft.player.kits import Kit
from fillwright.craft.player.motion import Demand, Motion, Touch, find_ceiling_bpm
from fillwright.craft.player.players import Player
from fillwright.craft.routes.grade import (
    Load,
    describe_tightest_move,
    find_reference_player,
    grade_difficulty,
    rate_difficulty,
)
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.phrase import Fill, Span
from fillwright.music.stroke import Kind, Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import whole_note_seconds

DOUBLED = frozenset({"crash", "second crash", "splash", "china"})
"""Cymbals that the kick doubles in a fill (common practice, no source)."""

_SLACK = 1e-9  # allowed above the limit of a demand, for rounding


class Family(Enum):
    """Ways to move a figure around the kit, in teaching order; the search comes last."""

    ONE_SURFACE = "one surface"
    ROUND = "round the kit"
    ACCENTS = "accents travel"
    APART = "hands apart"
    BY_POSITION = "by figure position"
    CYMBALS = "ends on cymbals"
    KICK = "kick inside the figure"
    SPLIT_FLAMS = "flams split"
    UP = "up the kit"
    MIRRORED = "mirrored"
    SEARCH = "search"


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """The span, kit, player and tempo of a route.

    Attributes:
        span: the part of the phrase that the chain fills.
        meter: of the phrase.
        kit: the kit.
        player: the player.
        tempo: in the meter's beats per minute; every route must be playable at it.
        doubled: cymbals that the kick doubles; empty for none.
    """

    span: Span
    meter: Meter
    kit: Kit
    player: Player
    tempo: float
    doubled: frozenset[str] = DOUBLED

    @property
    def whole_seconds(self) -> float:
        """Length of a whole note in seconds.

        Raises:
            TempoError: for a tempo that can't be played.
        """
        return whole_note_seconds(self.meter, self.tempo)

    @property
    def low_hand(self) -> Limb:
        """Hand on the side of the floor tom."""
        return Limb.LEFT if self.kit.mirrored else Limb.RIGHT

    @property
    def kick_foot(self) -> Limb:
        """Foot on the kick."""
        return Limb.LEFT_FOOT if self.kit.mirrored else Limb.RIGHT_FOOT

    @property
    def drums(self) -> tuple[str, ...]:
        """Drums of the kit from the snare down."""
        return tuple(name for name in _DRUMS_DOWN if self.kit.has(name))

    def beats(self) -> tuple[Fraction, ...]:
        """Return the starts of the beats in the span, from its start; a start off the beat counts as a beat."""
        return _find_beats(self.span, self.meter)

    def beat_of(self, at: Fraction) -> int:
        """Return the number of the beat that a place belongs to, from 0."""
        return bisect(self.beats(), at) - 1


@lru_cache(maxsize=1024)
def _find_beats(span: Span, meter: Meter) -> tuple[Fraction, ...]:
    bars = range(int(span.start // meter.bar), int(-(-span.end // meter.bar)))
    starts = {number * meter.bar + beat - span.start for number in bars for beat in meter.beat_starts}
    return tuple(sorted({start for start in starts if 0 <= start < span.length} | {Fraction(0)}))


_DRUMS_DOWN = ("snare", "high tom", "mid tom", "floor tom", "second floor tom")


@dataclass(frozen=True, slots=True, kw_only=True)
class RoutedStroke:
    """A stroke of a chain with its surface.

    Attributes:
        placed: the stroke.
        surface: name of its surface; a stroke on the "kick" is the foot's.
        graces_on: surface of its grace notes; "" for the same surface.
    """

    placed: PlacedStroke
    surface: str
    graces_on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Orchestration:
    """A surface for each stroke of a chain, not yet checked against a player."""

    family: Family
    words: str
    strokes: tuple[RoutedStroke, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """An orchestration with its hits, its demands, its ceiling and its grade.

    Attributes:
        family: the way to move around the kit.
        step: its place in the teaching order.
        words: description, for a caption.
        span: the part of the phrase it takes.
        hits: in time order, whole notes from the start of the span; a doubling kick after its cymbal.
        graces_on: for each hit the surface of its grace notes, the hit's own where there are none.
        demands: demand of each stroke, gaps in whole notes.
        tempo: the setting's tempo, in the meter's beats per minute.
        ceiling_bpm: the fastest tempo for this player, in the meter's beats; infinite for one stroke.
        difficulty: difficulty for the reference player, 1 or more.
        grade: the difficulty as a grade from 1 to 10.
        reason: the tightest move in one sentence.
        right_cm: way of the right hand.
        left_cm: way of the left hand.
        crossings: number of strokes with crossed hands.
    """

    family: Family
    step: str
    words: str
    span: Span
    hits: tuple[Hit, ...]
    graces_on: tuple[str, ...]
    demands: tuple[Demand, ...]
    tempo: float
    ceiling_bpm: float
    difficulty: float
    grade: int
    reason: str
    right_cm: float
    left_cm: float
    crossings: int

    @property
    def fill(self) -> Fill:
        """Route as a fill."""
        split = (
            replace(hit, graces_on=find_surface(name)) if name != hit.surface.name else hit
            for hit, name in zip(self.hits, self.graces_on, strict=True)
        )
        return Fill(span=self.span, hits=tuple(split))

    @property
    def strokes(self) -> tuple[Hit, ...]:
        """Hits of the chain's own strokes, without the kicks that double a hand."""
        by_hand = {hit.at for hit in self.hits if not hit.stroke.hand.is_foot}
        return tuple(hit for hit in self.hits if not hit.stroke.hand.is_foot or hit.at not in by_hand)

    @property
    def surfaces(self) -> tuple[str, ...]:
        """Surface of each of the chain's own strokes."""
        return tuple(hit.surface.name for hit in self.strokes)

    @property
    def peak_demand(self) -> float:
        """Demand of the tightest stroke at the tempo, needed over available time; above 1 is unplayable."""
        return self.tempo / self.ceiling_bpm


class RouteBuilder:
    """Builds routes from orchestrations for one setting; keeps the motion of both players."""

    def __init__(self, setting: Setting) -> None:
        """Take the setting.

        Raises:
            TempoError: for a tempo that can't be played.
        """
        self.setting = setting
        self.whole_seconds = setting.whole_seconds
        self.motion = Motion(setting.kit, setting.player)
        self._reference = Motion(setting.kit, find_reference_player())

    def build(self, orchestration: Orchestration) -> Route | None:
        """Build the route of an orchestration; None if the kit lacks a surface or the player is too slow."""
        hits, graces_on = list_hits(orchestration.strokes, self.setting)
        if any(not self.setting.kit.has(name) for name in {*graces_on, *(hit.surface.name for hit in hits)}):
            return None
        touches = self.motion.touches(hits, graces_on)
        demands = self.motion.demands(touches)
        if any(demand.at(self.whole_seconds) > 1 + _SLACK for demand in demands):
            return None
        return self._build_route(orchestration, hits, graces_on, touches, demands)

    def build_unchecked(self, orchestration: Orchestration) -> Route:
        """Build the route of an orchestration on surfaces of the kit, playable or not."""
        hits, graces_on = list_hits(orchestration.strokes, self.setting)
        touches = self.motion.touches(hits, graces_on)
        return self._build_route(orchestration, hits, graces_on, touches, self.motion.demands(touches))

    def _build_route(
        self,
        orchestration: Orchestration,
        hits: tuple[Hit, ...],
        graces_on: tuple[str, ...],
        touches: tuple[Touch, ...],
        demands: tuple[Demand, ...],
    ) -> Route:
        right, left = (self._measure_travel(touches, hand) for hand in (Limb.RIGHT, Limb.LEFT))
        crossings = sum(demand.crossed for demand in demands)
        difficulty = rate_difficulty(self._measure_load(hits, graces_on, right + left, crossings))
        setting = self.setting
        return Route(
            family=orchestration.family,
            step=_name_step(orchestration, setting),
            words=orchestration.words,
            span=setting.span,
            hits=hits,
            graces_on=graces_on,
            demands=demands,
            tempo=setting.tempo,
            ceiling_bpm=find_ceiling_bpm(demands, setting.meter.tempo_unit),
            difficulty=difficulty,
            grade=grade_difficulty(difficulty),
            reason=describe_tightest_move(demands, hits, setting.span, setting.meter, self.whole_seconds),
            right_cm=right,
            left_cm=left,
            crossings=crossings,
        )

    def _measure_load(
        self, hits: Sequence[Hit], graces_on: Sequence[str], travel: float, crossings: int
    ) -> Load:
        by_hand = [hit for hit in hits if not hit.stroke.hand.is_foot]
        by_foot = {hit.at for hit in hits if hit.stroke.hand.is_foot}
        together = by_foot & {hit.at for hit in by_hand}
        graces = {name for name, hit in zip(graces_on, hits, strict=True) if not hit.stroke.hand.is_foot}
        length = self.setting.span.length
        return Load(
            ceiling_bpm=find_ceiling_bpm(self._reference.demands(self._reference.touches(hits, graces_on))),
            surfaces=len({hit.surface.name for hit in by_hand} | graces),
            beat_travel_cm=travel / float(length * 4),
            crossings=crossings,
            length=length,
            doubled=bool(together),
            alone=bool(by_foot - together),
        )

    def _measure_travel(self, touches: Iterable[Touch], hand: Limb) -> float:
        kit = self.setting.kit
        spots = [kit.spot(touch.surface) for touch in touches if touch.limb is hand]
        return sum(before.distance_cm(after) for before, after in pairwise(spots))


def list_hits(strokes: Iterable[RoutedStroke], setting: Setting) -> tuple[tuple[Hit, ...], tuple[str, ...]]:
    """Return the hits of strokes, with the kicks that double cymbals, and the surfaces of their grace notes."""
    hits: list[Hit] = []
    graces: list[str] = []
    for routed in strokes:
        placed = routed.placed
        by_foot = routed.surface == "kick"
        stroke = _give_to_foot(placed.stroke, setting) if by_foot else placed.stroke
        hits.append(
            Hit(at=placed.at, length=placed.length, stroke=stroke, surface=find_surface(routed.surface))
        )
        graces.append(routed.graces_on if routed.graces_on and not by_foot else routed.surface)
        if routed.surface in setting.doubled:
            kick = Stroke(hand=setting.kick_foot)
            hits.append(Hit(at=placed.at, length=placed.length, stroke=kick, surface=find_surface("kick")))
            graces.append("kick")
    return tuple(hits), tuple(graces)


def _give_to_foot(stroke: Stroke, setting: Setting) -> Stroke:
    return replace(stroke, hand=setting.kick_foot, kind=Kind.SINGLE)


def _name_step(orchestration: Orchestration, setting: Setting) -> str:
    """Return the place in the teaching order; a route of the search takes that of the family it resembles."""
    if orchestration.family is not Family.SEARCH:
        return name_step(orchestration.family, setting)
    by_beat = {(setting.beat_of(routed.placed.at), routed.surface) for routed in orchestration.strokes}
    surfaces = {name for _, name in by_beat}
    if len(surfaces) == 1:
        return name_step(Family.ONE_SURFACE, setting)
    return name_step(
        Family.ROUND if len(by_beat) == len({beat for beat, _ in by_beat}) else Family.SEARCH, setting
    )


def name_step(family: Family, setting: Setting) -> str:
    """Return the place of a family in the teaching order; on one surface the length of the span decides."""
    if family is not Family.ONE_SURFACE:
        name: str = _STEPS.get(family, family.value)
        return name
    beats = setting.meter.count_beats(setting.span.length)
    if beats <= 1:
        return "last beat"
    return "last two beats" if beats <= 2 else "whole bar"


_STEPS = {Family.ACCENTS: "accents to the toms", Family.SEARCH: "free"}
