"""Routes: which surface each stroke of a chain goes to on a kit, checked against a player and graded."""

from __future__ import annotations

from bisect import bisect
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from fillwright.craft.chains.chain import Placed
from fillwright.craft.player.kits import Kit
from fillwright.craft.player.motion import Demand, Motion, Touch, ceiling_bpm
from fillwright.craft.player.players import Player
from fillwright.craft.routes.grade import Load, difficulty, grade, reason, reference_player
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.phrase import Fill, Span
from fillwright.music.stroke import Kind, Limb, Stroke
from fillwright.music.surfaces import surface
from fillwright.music.timing import whole_note_seconds

DOUBLED = frozenset({"crash", "second crash", "splash", "china"})
"""Cymbals that sound thin in a fill without the kick under them (common practice, no source)."""

_SLACK = 1e-9


class Family(Enum):
    """Where routes come from, in teaching order; the search comes last."""

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
    """Where, by whom and how fast a chain is played.

    Attributes:
        span: the part of the phrase that the chain fills.
        meter: of the phrase.
        kit: what it is played on.
        player: who plays it.
        tempo: in the meter's beats a minute; every route must be playable at it.
        doubled: cymbals that the kick doubles; empty to drop that rule.
    """

    span: Span
    meter: Meter
    kit: Kit
    player: Player
    tempo: float
    doubled: frozenset[str] = DOUBLED

    @property
    def whole_seconds(self) -> float:
        """Length of a whole note.

        Raises:
            TempoError: for a tempo that can't be played.
        """
        return whole_note_seconds(self.meter, self.tempo)

    @property
    def low_hand(self) -> Limb:
        """The hand on the side of the floor tom."""
        return Limb.LEFT if self.kit.mirrored else Limb.RIGHT

    @property
    def kick_foot(self) -> Limb:
        """The foot on the kick."""
        return Limb.LEFT_FOOT if self.kit.mirrored else Limb.RIGHT_FOOT

    @property
    def drums(self) -> tuple[str, ...]:
        """The drums of the kit from the snare down."""
        return tuple(name for name in _DOWN if self.kit.has(name))

    def beats(self) -> tuple[Fraction, ...]:
        """Starts of the beats inside the span, from its own start; a start off the beat counts as a beat."""
        return _beats(self.span, self.meter)

    def beat_of(self, at: Fraction) -> int:
        """Which of those beats a place belongs to, from 0."""
        return bisect(self.beats(), at) - 1


@lru_cache(maxsize=1024)
def _beats(span: Span, meter: Meter) -> tuple[Fraction, ...]:
    bars = range(int(span.start // meter.bar), int(-(-span.end // meter.bar)))
    starts = {number * meter.bar + beat - span.start for number in bars for beat in meter.beat_starts}
    return tuple(sorted({start for start in starts if 0 <= start < span.length} | {Fraction(0)}))


_DOWN = ("snare", "high tom", "mid tom", "floor tom", "second floor tom")


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """A stroke of a chain laid on a surface.

    Attributes:
        placed: the stroke.
        surface: where it goes; "kick" hands it to the foot, as every stroke of a foot must be.
        graces_on: where its grace notes go; "" for the same surface.
    """

    placed: Placed
    surface: str
    graces_on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A way to lay a chain on a kit, before anyone has asked whether it can be played."""

    family: Family
    words: str
    strokes: tuple[Laid, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """A chain on a kit, playable at the tempo asked.

    Attributes:
        family: where it comes from.
        step: its place in the teaching order.
        words: what happens, for a caption.
        span: the part of the phrase it takes.
        hits: in time order, whole notes from the start of the span; a doubling kick behind its cymbal.
        graces_on: for each hit the surface of its grace notes, the hit's own where there are none.
        demands: what each stroke asks of its limb, gaps in whole notes.
        tempo: the tempo asked, in the meter's beats a minute.
        ceiling_bpm: the fastest tempo this player can take, in the meter's beats; infinite for one stroke.
        difficulty: how hard it is, without steps, for the reference player.
        grade: the same from 1 to 10.
        reason: the tightest move in one sentence.
        right_cm: how far the right hand travels.
        left_cm: how far the left hand travels.
        crossings: how many strokes are struck with crossed hands.
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
        """The route as a fill."""
        split = (
            replace(hit, graces_on=surface(name)) if name != hit.surface.name else hit
            for hit, name in zip(self.hits, self.graces_on, strict=True)
        )
        return Fill(span=self.span, hits=tuple(split))

    @property
    def strokes(self) -> tuple[Hit, ...]:
        """The hits of the chain's own strokes, without the kicks that double a hand."""
        by_hand = {hit.at for hit in self.hits if not hit.stroke.hand.is_foot}
        return tuple(hit for hit in self.hits if not hit.stroke.hand.is_foot or hit.at not in by_hand)

    @property
    def surfaces(self) -> tuple[str, ...]:
        """The surface of each of the chain's own strokes."""
        return tuple(hit.surface.name for hit in self.strokes)

    @property
    def peak_demand(self) -> float:
        """The tightest stroke at the tempo asked, needed over available time: above 1 it can't be played."""
        return self.tempo / self.ceiling_bpm

    @property
    def is_split(self) -> bool:
        """Whether a grace note lies on another surface than its stroke."""
        return any(name != hit.surface.name for name, hit in zip(self.graces_on, self.hits, strict=True))


class Maker:
    """Turns layouts into routes for one setting; keeps the motion of its player and of the reference player."""

    def __init__(self, setting: Setting) -> None:
        """For this setting.

        Raises:
            TempoError: for a tempo that can't be played.
        """
        self.setting = setting
        self.whole_seconds = setting.whole_seconds
        self.motion = Motion(setting.kit, setting.player)
        self._reference = Motion(setting.kit, reference_player())

    def route(self, layout: Layout) -> Route | None:
        """The route of a layout; None where the kit lacks a surface or the player is too slow for it."""
        hits, graces_on = hits_of(layout.strokes, self.setting)
        if any(not self.setting.kit.has(name) for name in {*graces_on, *(hit.surface.name for hit in hits)}):
            return None
        touches = self.motion.touches(hits, graces_on)
        demands = self.motion.demands(touches)
        if any(demand.at(self.whole_seconds) > 1 + _SLACK for demand in demands):
            return None
        return self._made(layout, hits, graces_on, touches, demands)

    def reckoned(self, layout: Layout) -> Route:
        """The route of a layout on surfaces that the kit has, whether the player is quick enough or not."""
        hits, graces_on = hits_of(layout.strokes, self.setting)
        touches = self.motion.touches(hits, graces_on)
        return self._made(layout, hits, graces_on, touches, self.motion.demands(touches))

    def _made(
        self,
        layout: Layout,
        hits: tuple[Hit, ...],
        graces_on: tuple[str, ...],
        touches: tuple[Touch, ...],
        demands: tuple[Demand, ...],
    ) -> Route:
        right, left = (self._travel_cm(touches, hand) for hand in (Limb.RIGHT, Limb.LEFT))
        crossings = sum(demand.crossed for demand in demands)
        hardness = difficulty(self._load(hits, graces_on, right + left, crossings))
        setting = self.setting
        return Route(
            family=layout.family,
            step=_step(layout, setting),
            words=layout.words,
            span=setting.span,
            hits=hits,
            graces_on=graces_on,
            demands=demands,
            tempo=setting.tempo,
            ceiling_bpm=ceiling_bpm(demands, setting.meter.tempo_unit),
            difficulty=hardness,
            grade=grade(hardness),
            reason=reason(demands, hits, setting.span, setting.meter, self.whole_seconds),
            right_cm=right,
            left_cm=left,
            crossings=crossings,
        )

    def _load(self, hits: Sequence[Hit], graces_on: Sequence[str], travel: float, crossings: int) -> Load:
        by_hand = [hit for hit in hits if not hit.stroke.hand.is_foot]
        by_foot = {hit.at for hit in hits if hit.stroke.hand.is_foot}
        together = by_foot & {hit.at for hit in by_hand}
        graces = {name for name, hit in zip(graces_on, hits, strict=True) if not hit.stroke.hand.is_foot}
        length = self.setting.span.length
        return Load(
            ceiling_bpm=ceiling_bpm(self._reference.demands(self._reference.touches(hits, graces_on))),
            surfaces=len({hit.surface.name for hit in by_hand} | graces),
            beat_travel_cm=travel / float(length * 4),
            crossings=crossings,
            length=length,
            doubled=bool(together),
            alone=bool(by_foot - together),
        )

    def _travel_cm(self, touches: Iterable[Touch], hand: Limb) -> float:
        kit = self.setting.kit
        spots = [kit.spot(touch.surface) for touch in touches if touch.limb is hand]
        return sum(before.distance_cm(after) for before, after in pairwise(spots))


def hits_of(strokes: Iterable[Laid], setting: Setting) -> tuple[tuple[Hit, ...], tuple[str, ...]]:
    """The hits of laid strokes, with the kicks that double cymbals, and where their grace notes go."""
    hits: list[Hit] = []
    graces: list[str] = []
    for laid in strokes:
        placed = laid.placed
        by_foot = laid.surface == "kick"
        stroke = _footed(placed.stroke, setting) if by_foot else placed.stroke
        hits.append(Hit(at=placed.at, length=placed.length, stroke=stroke, surface=surface(laid.surface)))
        graces.append(laid.graces_on if laid.graces_on and not by_foot else laid.surface)
        if laid.surface in setting.doubled:
            kick = Stroke(hand=setting.kick_foot)
            hits.append(Hit(at=placed.at, length=placed.length, stroke=kick, surface=surface("kick")))
            graces.append("kick")
    return tuple(hits), tuple(graces)


def _footed(stroke: Stroke, setting: Setting) -> Stroke:
    return replace(stroke, hand=setting.kick_foot, kind=Kind.SINGLE)


def _step(layout: Layout, setting: Setting) -> str:
    """The place in the teaching order; what the search finds belongs with what it looks like."""
    if layout.family is not Family.SEARCH:
        return step_of(layout.family, setting)
    by_beat = {(setting.beat_of(laid.placed.at), laid.surface) for laid in layout.strokes}
    surfaces = {name for _, name in by_beat}
    if len(surfaces) == 1:
        return step_of(Family.ONE_SURFACE, setting)
    return step_of(
        Family.ROUND if len(by_beat) == len({beat for beat, _ in by_beat}) else Family.SEARCH, setting
    )


def step_of(family: Family, setting: Setting) -> str:
    """The place of a family in the teaching order; on one surface the length of the span decides."""
    if family is not Family.ONE_SURFACE:
        name: str = _STEPS.get(family, family.value)
        return name
    beats = setting.meter.beats_in(setting.span.length)
    if beats <= 1:
        return "last beat"
    return "last two beats" if beats <= 2 else "whole bar"


_STEPS = {Family.ACCENTS: "accents to the toms", Family.SEARCH: "free"}
