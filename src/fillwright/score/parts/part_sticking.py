"""A drum part with the hands that play it, and in words what stands in their way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from fillwright.craft.player.kits import Kit, find_kit
from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import Player, find_player, load_players, load_trigger_thresholds
from fillwright.craft.sticking.hands import AssignedStroke, Sticking, UnassignedStroke, find_feet_limit, find_hands
from fillwright.craft.sticking.limbs import Way
from fillwright.errors import TempoError
from fillwright.music.stroke import Limb
from fillwright.score.parts.cleaning import find_shadows
from fillwright.score.parts.drum_part import DrumPart, PartStroke
from fillwright.score.parts.midi_notes import Pads, default_pads

SLOWEST, FASTEST = 1.0, 5000.0
"""Tempos that a part can be asked for; far beyond what anyone plays, so that limits can be found."""

_KITS = ("five-piece", "six-piece")
_AT_ONCE_SECONDS = 0.020
_NEAR_SECONDS = 0.150  # a stroke more or less changes what the hands can do about so far to either side
_ROUNDS = 2
_WORDS = {Limb.RIGHT: "right hand", Limb.LEFT: "left hand"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSticking:
    """A drum part as a player plays it.

    Attributes:
        strokes: of the part, on the surfaces of the kit.
        sticking: one limb for each.
        player: who plays.
        kit: where.
        meter: of the part, as written.
        tempo: quarters a minute asked for.
        scale: how many times longer every gap is than in the part.
        ceiling_bpm: the fastest tempo at which it is playable, None where nothing limits it.
        unplayable: a sentence for each place that can't be played at the tempo asked.
        report: what was merged, set aside, unknown or put elsewhere.
    """

    strokes: tuple[PartStroke, ...]
    sticking: Sticking
    player: Player
    kit: Kit
    meter: str
    tempo: float
    scale: float
    ceiling_bpm: float | None
    unplayable: tuple[str, ...]
    report: tuple[str, ...]


def find_part_sticking(
    part: DrumPart,
    player: Player,
    *,
    kit: Kit | None = None,
    tempo: float | None = None,
    pads: Pads | None = None,
) -> PartSticking:
    """The sticking of a drum part, by `find_hands`.

    Args:
        part: what is played.
        player: who plays.
        kit: where; five pieces, or six if the part has a second floor tom, unless given.
        tempo: quarters a minute; the part's own unless given. All gaps scale with it.
        pads: where strokes go that the kit has no surface for; the project's own table unless given.

    Raises:
        TempoError: for a tempo outside 1 to 5,000.
        FillwrightError: for a stroke that the kit has no place for.
    """
    asked = part.tempo if tempo is None else tempo
    if not SLOWEST <= asked <= FASTEST:
        raise TempoError(
            f"A tempo of {asked:g} can't be asked for; it lies between {SLOWEST:g} and {FASTEST:,g}."
        )
    where = kit or _kit_for(part)
    strokes, moved = _on_kit(part.strokes, where, pads or default_pads())
    jitter = load_trigger_thresholds().jitter_seconds if part.recorded else 0.0
    strokes, heard = _struck_only(strokes, where, jitter) if part.recorded else (strokes, ())
    struck = [each.struck for each in strokes]
    two_pedals = _needs_two_pedals(struck, where, jitter)
    sticking = find_hands(
        struck,
        Motion(where, player),
        scale=part.tempo / asked,
        jitter_seconds=jitter,
        two_pedals=two_pedals,
    )
    counted = (f"Read as a recording: every gap counts {jitter * 1000:.0f} ms longer.",) if jitter else ()
    pedals = ("The kick is played on two pedals: one foot alone is not so fast.",) if two_pedals else ()
    return PartSticking(
        strokes=strokes,
        sticking=sticking,
        player=player,
        kit=where,
        meter=part.meter,
        tempo=asked,
        scale=part.tempo / asked,
        ceiling_bpm=part.tempo / sticking.limit if sticking.limit > 0 else None,
        unplayable=tuple(dict.fromkeys(_obstacles(strokes, sticking))),
        report=(*part.report, *heard, *moved, *pedals, *counted),
    )


def _kit_for(part: DrumPart) -> Kit:
    names = {each.struck.surface for each in part.strokes}
    return find_kit(_KITS[1] if "second floor tom" in names else _KITS[0])


def _on_kit(
    strokes: Sequence[PartStroke], kit: Kit, pads: Pads
) -> tuple[tuple[PartStroke, ...], tuple[str, ...]]:
    """The strokes on what the kit has, and a sentence for each surface it has not."""
    names = dict.fromkeys(each.struck.surface for each in strokes)
    places = {name: pads.on(kit, name) for name in names}
    moved = tuple(
        f"The {kit.name} kit has no {name}; it is played on the {place}."
        for name, place in places.items()
        if name != place
    )
    return tuple(
        replace(each, struck=replace(each.struck, surface=places[each.struck.surface])) for each in strokes
    ), moved


def _fastest() -> Player:
    return find_player(list(load_players())[-1])


def _struck_only(
    strokes: tuple[PartStroke, ...], kit: Kit, jitter_seconds: float
) -> tuple[tuple[PartStroke, ...], tuple[str, ...]]:
    """The strokes less the soft ones beside a loud one for which no hand can have been free.

    A soft stroke at the moment of a loud one is a second hand, or a pad that heard its neighbour. Where the
    fastest player at the recorded tempo would have to pass the limit close by, it was heard.
    """
    motion = Motion(kit, _fastest())
    told: list[str] = []
    for _ in range(_ROUNDS):
        soft = find_shadows([(number, each.struck) for number, each in enumerate(strokes)])
        if not soft:
            break
        sticking = find_hands([each.struck for each in strokes], motion, jitter_seconds=jitter_seconds)
        tight = [
            strokes[each.stroke].struck.onset_seconds
            for each in sticking.played
            if each.demand > 1.0 and not each.limb.is_foot
        ]
        gone = {
            number
            for number in soft
            if any(abs(strokes[number].struck.onset_seconds - at) <= _NEAR_SECONDS for at in tight)
        }
        if not gone:
            break
        told += [
            f"Set aside at {_place(strokes[number])}: {strokes[number].struck.surface}, heard through the "
            f"{soft[number]}, since no hand was free."
            for number in sorted(gone)
        ]
        strokes = tuple(each for number, each in enumerate(strokes) if number not in gone)
    return strokes, tuple(told)


def _needs_two_pedals(struck: Sequence[UnassignedStroke], kit: Kit, jitter_seconds: float) -> bool:
    """Whether the kick, as it stands in the part, is too fast for the fastest foot but not for two feet.

    It is a question of the part and not of who plays it: it is put to the fastest player at the part's tempo.
    """
    motion = Motion(kit, _fastest())
    if find_feet_limit(struck, motion, jitter_seconds=jitter_seconds) <= 1.0:
        return False
    return find_feet_limit(struck, motion, jitter_seconds=jitter_seconds, two_pedals=True) <= 1.0


def _obstacles(strokes: Sequence[PartStroke], sticking: Sticking) -> Iterator[str]:
    """A sentence for each stroke beyond the limit; three hands at once are told together."""
    for each in sticking.played:
        if each.demand <= 1.0 or each.before is None:
            continue
        together = _at_once(strokes, each)
        if len(together) > 2:
            place = _place(strokes[min(together)])
            names = ", ".join(strokes[number].struck.surface for number in together)
            yield f"{_count(len(together))} hands at once on {place}: {names}"
        else:
            yield _too_quick(strokes, each, strokes[each.before].struck.surface)


def _at_once(strokes: Sequence[PartStroke], each: AssignedStroke) -> list[int]:
    """The strokes of hands at the same moment, if it is a hand; strokes are in order of time."""
    here = strokes[each.stroke].struck
    if here.by_foot:
        return []
    first = last = each.stroke
    while first and here.onset_seconds - strokes[first - 1].struck.onset_seconds <= _AT_ONCE_SECONDS:
        first -= 1
    while (
        last + 1 < len(strokes)
        and strokes[last + 1].struck.onset_seconds - here.onset_seconds <= _AT_ONCE_SECONDS
    ):
        last += 1
    return [number for number in range(first, last + 1) if not strokes[number].struck.by_foot]


def _count(number: int) -> str:
    return {3: "three", 4: "four", 5: "five"}.get(number, str(number))


def _too_quick(strokes: Sequence[PartStroke], each: AssignedStroke, before: str) -> str:
    now = strokes[each.stroke].struck.surface
    limb = _WORDS.get(each.limb, each.limb.value)
    there_is, needs = each.gap_seconds * 1000, each.needed_seconds * 1000
    times = f"in {there_is:.0f} ms, needs {needs:.0f}"
    crossing = ", crossing the other hand," if each.crossed else ""
    if before == now:
        again = "comes back by rebound on" if each.way is not Way.FRESH else "strikes again on"
        return f"{limb} {again} the {now}{crossing} {times} ({_place(strokes[each.stroke])})"
    return f"{limb} travels from {before} to {now}{crossing} {times} ({_place(strokes[each.stroke])})"


def _place(stroke: PartStroke) -> str:
    return f"bar {stroke.bar}, beat {stroke.beat:.2f}".removesuffix("0").removesuffix(".0")
