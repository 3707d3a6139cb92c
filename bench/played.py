"""Fills as professionals play them on electronic kits: made up, with the faults that such recordings have.

Nothing here is anyone's recording. Each kind is a way of filling a bar or two, at tempos good players take.
Hands scatter by 5 to 12 ms; `bench.ekit` adds the faults of the kit.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable

from bench.ekit import Beat, Hit, as_midi, send

_SHARE_OF_GAP = 0.12
"""Quick strokes scatter less: so much of the gap between them at most."""
_FREE_SECONDS = 0.19
"""Seconds before a landing on two crashes in which no hand plays (ours, not measured)."""
DOWN = ("snare", "high", "mid", "floor")


Fill = list[Beat]
Maker = Callable[[random.Random], Fill]


def accent(chance: random.Random, *, odds: float = 0.3) -> int:
    """Return a velocity: an accent, a stroke, or a ghost note."""
    draw = chance.random()
    if draw < odds:
        return chance.randint(105, 127)
    return chance.randint(15, 40) if draw > 0.85 else chance.randint(55, 100)


def run(chance: random.Random, parts: int, beats: float, *, each: int, pads: Iterable[str] = DOWN) -> Fill:
    """Return even strokes, so many of them on each pad in turn."""
    order = list(pads)
    return [
        Beat(at=n / parts, pad=order[min(n // each, len(order) - 1)], loud=accent(chance))
        for n in range(round(parts * beats))
    ]


def landing(at: float, chance: random.Random) -> Fill:
    """Return the end: a crash, or both, with the kick."""
    both = [Beat(at=at, pad="crash 2", loud=118)] if chance.random() < 0.25 else []
    return [Beat(at=at, pad="crash", loud=120), Beat(at=at, pad="kick", loud=115), *both]


def singles(parts: int, each: tuple[int, ...], beats: float = 4) -> Maker:
    def make(chance: random.Random) -> Fill:
        pads = chance.choice(
            (
                DOWN,
                ("snare", "floor"),
                ("snare",),
                ("high", "mid", "floor"),
                ("snare", "snare", "high", "floor"),
            )
        )
        return run(chance, parts, beats, each=chance.choice(each), pads=pads) + landing(beats, chance)

    return make


def burst(chance: random.Random) -> Fill:
    """Return sixteenths with a run of thirty-seconds in them, on one drum."""
    slow = [Beat(at=n / 4, pad="snare", loud=accent(chance)) for n in range(8)]
    fast = [Beat(at=2 + n / 8, pad="snare", loud=accent(chance)) for n in range(8)]
    return slow + fast + [Beat(at=3 + n / 4, pad=DOWN[n], loud=100) for n in range(4)] + landing(4, chance)


def doubles(chance: random.Random) -> Fill:
    """Return a double stroke roll in thirty-seconds, the pairs moving, second strokes no louder."""
    still, moving = ("snare",) * 8, ("snare", "snare", "high", "snare", "mid", "snare", "floor", "floor")
    pads = chance.choice((still, moving))
    fill = []
    for n in range(0, 32, 2):
        loud = chance.randint(55, 100)
        fill.append(Beat(at=n / 8, pad=pads[n // 4], loud=loud))
        fill.append(Beat(at=(n + 1) / 8, pad=pads[n // 4], loud=int(loud * chance.uniform(0.75, 1.05))))
    return fill + landing(4, chance)


def paradiddles(chance: random.Random) -> Fill:
    """Return accents on toms or cymbals, the rest on the snare."""
    toms = chance.choice((("high", "floor"), ("high", "mid"), ("crash", "crash 2"), ("floor", "ride")))
    fill = []
    for n in range(16):
        first = n % 4 == 0
        fill.append(Beat(at=n / 4, pad=toms[n // 4 % 2] if first else "snare", loud=115 if first else 50))
    return fill + landing(4, chance)


def flams(chance: random.Random) -> Fill:
    """Return flams on beats and eighths, grace notes 15 to 35 ms ahead, on one drum or split over two."""
    fill = run(chance, 4, 4, each=4)
    for n in range(0, 16, chance.choice((2, 4))):
        grace = chance.choice((fill[n].pad, fill[n].pad, "snare"))
        fill.append(Beat(at=n / 4, pad=grace, loud=chance.randint(15, 50), ahead=chance.uniform(0.015, 0.035)))
    return fill + landing(4, chance)


def drags(chance: random.Random) -> Fill:
    """Return ruffs: two soft strokes of one hand before the main one."""
    fill = [Beat(at=n / 2, pad=chance.choice(DOWN), loud=100) for n in range(8)]
    for stroke in fill[:: chance.choice((1, 2))]:
        first = chance.uniform(0.05, 0.07)
        soft = chance.randint(20, 45)
        fill.append(Beat(at=stroke.at, pad="snare", loud=soft, ahead=first))
        fill.append(Beat(at=stroke.at, pad="snare", loud=max(8, soft + chance.randint(-8, 3)), ahead=first / 2))
    return fill + landing(4, chance)


def buzzes(chance: random.Random) -> Fill:
    """Return a press roll: each hand a burst of falling bounces, the hands overlapping, into an accent."""
    fill = []
    for n in range(8):
        loud, ahead = chance.randint(60, 90), 0.0
        for _ in range(chance.randint(3, 5)):
            fill.append(Beat(at=n / 4, pad="snare", loud=max(5, int(loud)), ahead=ahead))
            loud *= chance.uniform(0.6, 0.9)
            ahead -= chance.uniform(0.022, 0.036)
    return fill + [Beat(at=2 + n / 2, pad=DOWN[n], loud=115) for n in range(4)] + landing(4, chance)


def roll_closed(chance: random.Random) -> Fill:
    """Return a closed roll of a second or so on the snare, presses of uneven bounces, then two accents."""
    fill = []
    for n in range(12):
        loud, ahead = chance.randint(35, 60) + 3 * n, 0.0
        for _ in range(chance.randint(3, 5)):
            fill.append(
                Beat(at=n / 6, pad="snare", loud=max(5, int(loud * chance.gauss(1, 0.15))), ahead=ahead)
            )
            loud *= chance.uniform(0.6, 0.95)
            ahead -= chance.uniform(0.022, 0.036)
    return fill + [Beat(at=2 + n, pad=DOWN[n], loud=115) for n in range(2)] + landing(4, chance)


def linear(chance: random.Random) -> Fill:
    """Return hands and kick one after the other, in sextuplets or sixteenths."""
    parts, cell = chance.choice(
        (
            (6, ("R", "L", "K")),
            (6, ("R", "L", "R", "L", "K", "K")),
            (4, ("R", "L", "R", "K")),
            (4, ("R", "L", "K", "K")),
        )
    )
    fill = []
    for n in range(parts * 4):
        limb = cell[n % len(cell)]
        pad = {"K": "kick", "L": "snare"}.get(limb) or DOWN[n * 4 // (parts * 4)]
        fill.append(Beat(at=n / parts, pad=pad, loud=accent(chance)))
    return fill + landing(4, chance)


def unisons(chance: random.Random) -> Fill:
    """Return both hands together on two drums, the kick with them or between."""
    pairs = (("snare", "floor"), ("snare", "high"), ("high", "floor"), ("mid", "floor"), ("crash", "snare"))
    fill = []
    for n in range(0, 16, 2):
        fill += [Beat(at=n / 4, pad=pad, loud=110) for pad in chance.choice(pairs)]
        fill.append(Beat(at=(n + chance.choice((0, 1))) / 4, pad="kick", loud=105))
    return fill + landing(4, chance)


def pedal(chance: random.Random) -> Fill:
    """Return eighths of the hi-hat pedal below sixteenths of the hands, and a hi-hat closed by the foot."""
    fill = [stroke for stroke in run(chance, 4, 4, each=4) if stroke.at != 3.5]
    fill += [Beat(at=n / 2, pad="pedal", loud=60) for n in range(8)]
    return [*fill, Beat(at=3.5, pad="open", loud=110), *landing(4, chance)]


def kicks(chance: random.Random) -> Fill:
    """Return kick pairs below the hands."""
    fill = [Beat(at=n / 2, pad=DOWN[n // 2], loud=100) for n in range(8)]
    fill += [Beat(at=n + part, pad="kick", loud=100) for n in range(4) for part in (0.5, 0.75)]
    return fill + landing(4, chance)


def two_pedals(chance: random.Random) -> Fill:
    """Return a run of kicks in sixteenths that takes two feet, hands on cymbals above it."""
    fill = [Beat(at=n / 4, pad="kick", loud=105) for n in range(12)] + [
        Beat(at=n, pad="crash", loud=115) for n in range(3)
    ]
    return fill + [Beat(at=3 + n / 4, pad=DOWN[n], loud=105) for n in range(4)] + landing(4, chance)


def into_groove(chance: random.Random) -> Fill:
    """Return a bar of groove with ghost notes, then half a bar of fill."""
    beaten = chance.choice(("hat", "hat", "ride", "bell"))
    fill = [Beat(at=n / 2, pad=beaten, loud=90) for n in range(8)]
    fill += [Beat(at=at, pad="snare", loud=118) for at in (1, 3)]
    fill += [Beat(at=at, pad="snare", loud=chance.randint(12, 30)) for at in (1.75, 2.25)]
    fill += [Beat(at=at, pad="kick", loud=110) for at in (0, 2, 2.5)]
    fill += [Beat(at=4 + stroke.at, pad=stroke.pad, loud=stroke.loud) for stroke in run(chance, 4, 4, each=4)]
    return fill + landing(8, chance)


def open_hats(chance: random.Random) -> Fill:
    """Return snare and open hi-hat answers with quick ghost notes between."""
    fill = []
    for n in range(4):
        fill += [Beat(at=n, pad="snare", loud=115), Beat(at=n + 0.25, pad="snare", loud=25)]
        fill += [Beat(at=n + 0.5, pad="open", loud=110), Beat(at=n + 0.5, pad="kick", loud=100)]
        fill += [Beat(at=n + 0.75, pad="hat", loud=70), Beat(at=n + 0.75, pad="pedal", loud=50)]
    return fill + landing(4, chance)


def cross(chance: random.Random) -> Fill:
    """Return rights on the floor tom, lefts on high tom and snare, quick triplets."""
    fill = [
        Beat(
            at=n / 3,
            pad=("floor", "snare", "high")[n % 3] if n % 2 else chance.choice(("floor", "mid")),
            loud=95,
        )
        for n in range(12)
    ]
    return fill + landing(4, chance)


def sparse(chance: random.Random) -> Fill:
    """Return a few eighths, slow."""
    places = sorted(chance.sample(range(8), chance.randint(4, 7)))
    return [Beat(at=n / 2, pad=chance.choice(DOWN), loud=100) for n in places] + landing(4, chance)


# Each kind of fill, and its tempos in bpm from slow to fast (ours, not measured).
KINDS: dict[str, tuple[Maker, tuple[int, int]]] = {
    "sixteenths round the kit": (singles(4, (2, 4)), (70, 195)),
    "sextuplets round the kit": (singles(6, (3, 6, 12)), (60, 150)),
    "thirty-seconds, singles": (singles(8, (4, 8, 16), 2), (60, 125)),
    "fast tom runs": (singles(4, (2, 4, 1), 4), (140, 205)),
    "bursts of singles": (burst, (80, 140)),
    "thirty-seconds, doubles": (doubles, (70, 160)),
    "paradiddles": (paradiddles, (70, 170)),
    "flams": (flams, (60, 125)),
    "drags": (drags, (60, 130)),
    "buzzes": (buzzes, (60, 120)),
    "closed rolls": (roll_closed, (55, 90)),
    "linear with kicks": (linear, (60, 140)),
    "two hands at once": (unisons, (70, 170)),
    "hi-hat pedal": (pedal, (70, 160)),
    "kick pairs": (kicks, (70, 125)),
    "two pedals": (two_pedals, (110, 180)),
    "out of a groove": (into_groove, (70, 180)),
    "open hi-hat": (open_hats, (70, 140)),
    "hands apart": (cross, (90, 200)),
    "slow and sparse": (sparse, (58, 85)),
}


def record(kind: str, seed: int) -> tuple[bytes, float]:
    """Return a MIDI file of one fill of a kind as a kit records it, and its tempo."""
    chance = random.Random(f"{kind} {seed}")
    make, (slow, fast) = KINDS[kind]
    tempo = chance.uniform(slow, fast)
    scatter = chance.uniform(0.005, 0.012)
    meant = in_time(make(chance), tempo)
    hits: list[Hit] = []
    for number, (seconds, beat) in enumerate(meant):
        near = [abs(other - seconds) for other, _ in meant[max(0, number - 3) : number + 4]]
        gap = min((distance for distance in near if distance > 0.001), default=1.0)
        hits += send(beat, seconds + chance.gauss(0, min(scatter, _SHARE_OF_GAP * gap)), chance)
    return as_midi(hits, tempo), tempo


def in_time(fill: Fill, tempo: float) -> list[tuple[float, Beat]]:
    """Return a fill in seconds; who lands on two crashes at once stops early to have both hands free."""
    meant = sorted(
        (((4 + stroke.at) * 60 / tempo - stroke.ahead, stroke) for stroke in fill), key=lambda pair: pair[0]
    )
    last, end = meant[-1][0], [stroke.pad for _, stroke in meant[-3:]]
    if not {"crash", "crash 2"} <= set(end):
        return meant
    return [
        (seconds, stroke)
        for seconds, stroke in meant
        if stroke.pad in ("kick", "pedal") or not 0 < last - seconds < _FREE_SECONDS
    ]
