"""The sticking of a drum part, and in words the strokes that a player can't reach in time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from fillwright.craft.player.kits import Kit, find_kit
from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import Player, find_player, load_players, load_trigger_thresholds
from fillwright.craft.sticking.hands import (
    AssignedStroke,
    Sticking,
    UnassignedStroke,
    find_feet_limit,
    find_hands,
)
from fillwright.craft.sticking.pairing import Way
from fillwright.errors import TempoError
from fillwright.music.stroke import Limb
from fillwright.score.parts.cleaning import find_shadows
from fillwright.score.parts.drum_part import DrumPart, PartStroke
from fillwright.score.parts.midi_notes import MidiNoteMap, get_default_notes

SLOWEST, FASTEST = 1.0, 5000.0
"""Target tempos in bpm; far beyond what anyone plays, so that limits can be found (ours)."""

_KITS = ("five-piece", "six-piece")
_AT_ONCE_SECONDS = 0.020  # strokes this close count as one moment (ours, not measured)
_NEAR_SECONDS = 0.150  # a removed stroke frees the hands this far to either side (ours, not measured)
_ROUNDS = 2  # how often soft strokes are removed and the sticking worked out again (ours)
_LIMB_NAMES = {Limb.RIGHT: "right hand", Limb.LEFT: "left hand"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSticking:
    """A drum part as a player plays it.

    Attributes:
        strokes: of the part, on the surfaces of the kit.
        sticking: one limb for each.
        player: who plays.
        kit: of the player.
        meter: of the part, as written.
        tempo: target tempo, in quarters a minute.
        scale: how many times longer every gap is than in the part.
        ceiling_bpm: top tempo, None where nothing limits it.
        unplayable: a sentence for each place that can't be played at the target tempo.
        report: a sentence for each stroke that was merged, skipped, unknown or moved.
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
    pads: MidiNoteMap | None = None,
) -> PartSticking:
    """Work out the sticking of a drum part, by `find_hands`.

    Args:
        part: what is played.
        player: who plays.
        kit: of the player; five pieces, or six if the part has a second floor tom, unless given.
        tempo: quarters a minute; the part's own unless given. All gaps scale with it.
        pads: where strokes go that the kit has no surface for; the project's own table unless given.

    Raises:
        TempoError: for a tempo outside 1 to 5,000.
        FillwrightError: for a stroke that the kit has no place for.
    """
    target = part.tempo if tempo is None else tempo
    if not SLOWEST <= target <= FASTEST:
        raise TempoError(f"{target:g} bpm is not a valid tempo; use {SLOWEST:g} to {FASTEST:,g} bpm.")
    target_kit = kit or _choose_kit(part)
    strokes, moved = _move_to_kit(part.strokes, target_kit, pads or get_default_notes())
    jitter = load_trigger_thresholds().jitter_seconds if part.recorded else 0.0
    strokes, removed = _drop_shadows(strokes, target_kit, jitter) if part.recorded else (strokes, ())
    struck = [stroke.struck for stroke in strokes]
    two_pedals = _needs_two_pedals(struck, target_kit, jitter)
    sticking = find_hands(
        struck,
        Motion(target_kit, player),
        scale=part.tempo / target,
        jitter_seconds=jitter,
        two_pedals=two_pedals,
    )
    slack = (f"Read as a recording: every gap counts {jitter * 1000:.0f} ms longer.",) if jitter else ()
    pedals = ("The kick is played on two pedals: one foot alone is not so fast.",) if two_pedals else ()
    return PartSticking(
        strokes=strokes,
        sticking=sticking,
        player=player,
        kit=target_kit,
        meter=part.meter,
        tempo=target,
        scale=part.tempo / target,
        ceiling_bpm=part.tempo / sticking.limit if sticking.limit > 0 else None,
        unplayable=tuple(dict.fromkeys(_describe_obstacles(strokes, sticking))),
        report=(*part.report, *removed, *moved, *pedals, *slack),
    )


def _choose_kit(part: DrumPart) -> Kit:
    names = {stroke.struck.surface for stroke in part.strokes}
    return find_kit(_KITS[1] if "second floor tom" in names else _KITS[0])


def _move_to_kit(
    strokes: Sequence[PartStroke], kit: Kit, pads: MidiNoteMap
) -> tuple[tuple[PartStroke, ...], tuple[str, ...]]:
    """Move the strokes to what the kit has; return them and a sentence for each surface it doesn't have."""
    names = dict.fromkeys(stroke.struck.surface for stroke in strokes)
    surfaces = {name: pads.choose_surface(kit, name) for name in names}
    moved = tuple(
        f"The {kit.name} kit has no {name}; it is played on the {surface}."
        for name, surface in surfaces.items()
        if name != surface
    )
    return tuple(
        replace(stroke, struck=replace(stroke.struck, surface=surfaces[stroke.struck.surface]))
        for stroke in strokes
    ), moved


def _find_fastest_player() -> Player:
    return find_player(list(load_players())[-1])


def _drop_shadows(
    strokes: tuple[PartStroke, ...], kit: Kit, jitter_seconds: float
) -> tuple[tuple[PartStroke, ...], tuple[str, ...]]:
    """Drop the soft strokes at the moment of a loud one for which no hand can have been free.

    A soft stroke at the moment of a loud one is a second hand, or crosstalk from the louder pad. Where the
    fastest player at the recorded tempo would have to pass the limit close by, it was crosstalk.
    """
    motion = Motion(kit, _find_fastest_player())
    removed: list[str] = []
    for _ in range(_ROUNDS):
        soft = find_shadows([(number, stroke.struck) for number, stroke in enumerate(strokes)])
        if not soft:
            break
        sticking = find_hands([stroke.struck for stroke in strokes], motion, jitter_seconds=jitter_seconds)
        tight = [
            strokes[assigned.stroke].struck.onset_seconds
            for assigned in sticking.strokes
            if assigned.demand > 1.0 and not assigned.limb.is_foot
        ]
        gone = {
            number
            for number in soft
            if any(abs(strokes[number].struck.onset_seconds - at) <= _NEAR_SECONDS for at in tight)
        }
        if not gone:
            break
        removed += [
            f"Skipped at {_format_place(strokes[number])}: {strokes[number].struck.surface}, crosstalk "
            f"from the {soft[number]}, since no hand was free."
            for number in sorted(gone)
        ]
        strokes = tuple(stroke for number, stroke in enumerate(strokes) if number not in gone)
    return strokes, tuple(removed)


def _needs_two_pedals(struck: Sequence[UnassignedStroke], kit: Kit, jitter_seconds: float) -> bool:
    """Return True if the kick, at the part's tempo, is too fast for the fastest foot but not for two feet.

    It is a question of the part and not of who plays it: it is put to the fastest player at the part's tempo.
    """
    motion = Motion(kit, _find_fastest_player())
    if find_feet_limit(struck, motion, jitter_seconds=jitter_seconds) <= 1.0:
        return False
    return find_feet_limit(struck, motion, jitter_seconds=jitter_seconds, two_pedals=True) <= 1.0


def _describe_obstacles(strokes: Sequence[PartStroke], sticking: Sticking) -> Iterator[str]:
    """Yield a sentence for each stroke beyond the limit; three hands at once are reported together."""
    for assigned in sticking.strokes:
        if assigned.demand <= 1.0 or assigned.before is None:
            continue
        together = _find_simultaneous(strokes, assigned)
        if len(together) > 2:
            where = _format_place(strokes[min(together)])
            names = ", ".join(strokes[number].struck.surface for number in together)
            yield f"{_spell_number(len(together))} hands at once on {where}: {names}"
        else:
            yield _describe_demand(strokes, assigned, strokes[assigned.before].struck.surface)


def _find_simultaneous(strokes: Sequence[PartStroke], assigned: AssignedStroke) -> list[int]:
    """Find the strokes of hands at the same moment, if it is a hand; strokes are in order of time."""
    here = strokes[assigned.stroke].struck
    if here.by_foot:
        return []
    first = last = assigned.stroke
    while first and here.onset_seconds - strokes[first - 1].struck.onset_seconds <= _AT_ONCE_SECONDS:
        first -= 1
    while (
        last + 1 < len(strokes)
        and strokes[last + 1].struck.onset_seconds - here.onset_seconds <= _AT_ONCE_SECONDS
    ):
        last += 1
    return [number for number in range(first, last + 1) if not strokes[number].struck.by_foot]


def _spell_number(number: int) -> str:
    return {3: "three", 4: "four", 5: "five"}.get(number, str(number))


def _describe_demand(strokes: Sequence[PartStroke], assigned: AssignedStroke, before: str) -> str:
    now = strokes[assigned.stroke].struck.surface
    limb = _LIMB_NAMES.get(assigned.limb, assigned.limb.value)
    there_is, needs = assigned.gap_seconds * 1000, assigned.needed_seconds * 1000
    times = f"in {there_is:.0f} ms, needs {needs:.0f}"
    crossing = ", crossing the other hand," if assigned.crossed else ""
    if before == now:
        again = "comes back by rebound on" if assigned.way is not Way.FRESH else "strikes again on"
        return f"{limb} {again} the {now}{crossing} {times} ({_format_place(strokes[assigned.stroke])})"
    return (
        f"{limb} travels from {before} to {now}{crossing} {times} ({_format_place(strokes[assigned.stroke])})"
    )


def _format_place(stroke: PartStroke) -> str:
    return f"bar {stroke.bar}, beat {stroke.beat:.2f}".removesuffix("0").removesuffix(".0")
