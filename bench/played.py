"""Fills as professionals play them on electronic kits: made up, with the faults that such recordings have.

Nothing here is anyone's recording. Each kind is a way of filling a bar or two, at tempos good players take.
Hands scatter by 5 to 12 ms; `bench.ekit` adds the faults of the kit.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable

from bench.ekit import Beat, Hit, as_midi, sent

_SHARE_OF_GAP = 0.12
"""Quick strokes scatter less: so much of the gap between them at most."""
_FREE_SECONDS = 0.19
DOWN = ("snare", "high", "mid", "floor")


Fill = list[Beat]
Maker = Callable[[random.Random], Fill]


def accent(chance: random.Random, *, odds: float = 0.3) -> int:
    """A velocity: an accent, a stroke, or a ghost note."""
    draw = chance.random()
    if draw < odds:
        return chance.randint(105, 127)
    return chance.randint(15, 40) if draw > 0.85 else chance.randint(55, 100)


def run(chance: random.Random, parts: int, beats: float, *, each: int, pads: Iterable[str] = DOWN) -> Fill:
    """Even strokes, so many of them on each pad in turn."""
    order = list(pads)
    return [
        Beat(at=n / parts, pad=order[min(n // each, len(order) - 1)], loud=accent(chance))
        for n in range(round(parts * beats))
    ]


def landing(at: float, chance: random.Random) -> Fill:
    """The end: a crash, or both, with the kick."""
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
    """Sixteenths with a run of thirty-seconds in them, on one drum."""
    slow = [Beat(at=n / 4, pad="snare", loud=accent(chance)) for n in range(8)]
    fast = [Beat(at=2 + n / 8, pad="snare", loud=accent(chance)) for n in range(8)]
    return slow + fast + [Beat(at=3 + n / 4, pad=DOWN[n], loud=100) for n in range(4)] + landing(4, chance)


def doubles(chance: random.Random) -> Fill:
    """A double stroke roll in thirty-seconds, the pairs moving, second strokes no louder."""
    still, moving = ("snare",) * 8, ("snare", "snare", "high", "snare", "mid", "snare", "floor", "floor")
    pads = chance.choice((still, moving))
    made = []
    for n in range(0, 32, 2):
        loud = chance.randint(55, 100)
        made.append(Beat(at=n / 8, pad=pads[n // 4], loud=loud))
        made.append(Beat(at=(n + 1) / 8, pad=pads[n // 4], loud=int(loud * chance.uniform(0.75, 1.05))))
    return made + landing(4, chance)


def paradiddles(chance: random.Random) -> Fill:
    """Accents on toms or cymbals, the rest on the snare."""
    toms = chance.choice((("high", "floor"), ("high", "mid"), ("crash", "crash 2"), ("floor", "ride")))
    made = []
    for n in range(16):
        first = n % 4 == 0
        made.append(Beat(at=n / 4, pad=toms[n // 4 % 2] if first else "snare", loud=115 if first else 50))
    return made + landing(4, chance)


def flams(chance: random.Random) -> Fill:
    """Flams on beats and eighths, grace notes 15 to 35 ms ahead, on one drum or split over two."""
    made = run(chance, 4, 4, each=4)
    for n in range(0, 16, chance.choice((2, 4))):
        grace = chance.choice((made[n].pad, made[n].pad, "snare"))
        made.append(Beat(at=n / 4, pad=grace, loud=chance.randint(15, 50), ahead=chance.uniform(0.015, 0.035)))
    return made + landing(4, chance)


def drags(chance: random.Random) -> Fill:
    """Ruffs: two soft strokes of one hand before the main one."""
    made = [Beat(at=n / 2, pad=chance.choice(DOWN), loud=100) for n in range(8)]
    for stroke in made[:: chance.choice((1, 2))]:
        first = chance.uniform(0.05, 0.07)
        soft = chance.randint(20, 45)
        made.append(Beat(at=stroke.at, pad="snare", loud=soft, ahead=first))
        made.append(Beat(at=stroke.at, pad="snare", loud=max(8, soft + chance.randint(-8, 3)), ahead=first / 2))
    return made + landing(4, chance)


def buzzes(chance: random.Random) -> Fill:
    """A press roll: each hand a burst of falling bounces, the hands overlapping, into an accent."""
    made = []
    for n in range(8):
        loud, ahead = chance.randint(60, 90), 0.0
        for _ in range(chance.randint(3, 5)):
            made.append(Beat(at=n / 4, pad="snare", loud=max(5, int(loud)), ahead=ahead))
            loud *= chance.uniform(0.6, 0.9)
            ahead -= chance.uniform(0.022, 0.036)
    return made + [Beat(at=2 + n / 2, pad=DOWN[n], loud=115) for n in range(4)] + landing(4, chance)


def closed_roll(chance: random.Random) -> Fill:
    """A closed roll of a second or so on the snare, presses of uneven bounces, then two accents."""
    made = []
    for n in range(12):
        loud, ahead = chance.randint(35, 60) + 3 * n, 0.0
        for _ in range(chance.randint(3, 5)):
            made.append(
                Beat(at=n / 6, pad="snare", loud=max(5, int(loud * chance.gauss(1, 0.15))), ahead=ahead)
            )
            loud *= chance.uniform(0.6, 0.95)
            ahead -= chance.uniform(0.022, 0.036)
    return made + [Beat(at=2 + n, pad=DOWN[n], loud=115) for n in range(2)] + landing(4, chance)


def linear(chance: random.Random) -> Fill:
    """Hands and kick one after the other, in sextuplets or sixteenths."""
    parts, cell = chance.choice(
        (
            (6, ("R", "L", "K")),
            (6, ("R", "L", "R", "L", "K", "K")),
            (4, ("R", "L", "R", "K")),
            (4, ("R", "L", "K", "K")),
        )
    )
    made = []
    for n in range(parts * 4):
        what = cell[n % len(cell)]
        pad = {"K": "kick", "L": "snare"}.get(what) or DOWN[n * 4 // (parts * 4)]
        made.append(Beat(at=n / parts, pad=pad, loud=accent(chance)))
    return made + landing(4, chance)


def unisons(chance: random.Random) -> Fill:
    """Both hands together on two drums, the kick with them or between."""
    pairs = (("snare", "floor"), ("snare", "high"), ("high", "floor"), ("mid", "floor"), ("crash", "snare"))
    made = []
    for n in range(0, 16, 2):
        made += [Beat(at=n / 4, pad=pad, loud=110) for pad in chance.choice(pairs)]
        made.append(Beat(at=(n + chance.choice((0, 1))) / 4, pad="kick", loud=105))
    return made + landing(4, chance)


def pedalled(chance: random.Random) -> Fill:
    """Eighths of the hi-hat pedal below sixteenths of the hands, and an open hi-hat closed by the foot."""
    made = [each for each in run(chance, 4, 4, each=4) if each.at != 3.5]
    made += [Beat(at=n / 2, pad="pedal", loud=60) for n in range(8)]
    return [*made, Beat(at=3.5, pad="open", loud=110), *landing(4, chance)]


def kicks(chance: random.Random) -> Fill:
    """Kick pairs below the hands."""
    made = [Beat(at=n / 2, pad=DOWN[n // 2], loud=100) for n in range(8)]
    made += [Beat(at=n + part, pad="kick", loud=100) for n in range(4) for part in (0.5, 0.75)]
    return made + landing(4, chance)


def two_pedals(chance: random.Random) -> Fill:
    """A run of kicks in sixteenths that takes two feet, hands on cymbals above it."""
    made = [Beat(at=n / 4, pad="kick", loud=105) for n in range(12)] + [
        Beat(at=n, pad="crash", loud=115) for n in range(3)
    ]
    return made + [Beat(at=3 + n / 4, pad=DOWN[n], loud=105) for n in range(4)] + landing(4, chance)


def into_groove(chance: random.Random) -> Fill:
    """A bar of groove with ghost notes, then half a bar of fill."""
    beaten = chance.choice(("hat", "hat", "ride", "bell"))
    made = [Beat(at=n / 2, pad=beaten, loud=90) for n in range(8)]
    made += [Beat(at=at, pad="snare", loud=118) for at in (1, 3)]
    made += [Beat(at=at, pad="snare", loud=chance.randint(12, 30)) for at in (1.75, 2.25)]
    made += [Beat(at=at, pad="kick", loud=110) for at in (0, 2, 2.5)]
    made += [Beat(at=4 + each.at, pad=each.pad, loud=each.loud) for each in run(chance, 4, 4, each=4)]
    return made + landing(8, chance)


def open_hats(chance: random.Random) -> Fill:
    """Snare and open hi-hat answers with quick ghost notes between."""
    made = []
    for n in range(4):
        made += [Beat(at=n, pad="snare", loud=115), Beat(at=n + 0.25, pad="snare", loud=25)]
        made += [Beat(at=n + 0.5, pad="open", loud=110), Beat(at=n + 0.5, pad="kick", loud=100)]
        made += [Beat(at=n + 0.75, pad="hat", loud=70), Beat(at=n + 0.75, pad="pedal", loud=50)]
    return made + landing(4, chance)


def crossed(chance: random.Random) -> Fill:
    """Rights on the floor tom, lefts on high tom and snare, quick triplets."""
    made = [
        Beat(
            at=n / 3,
            pad=("floor", "snare", "high")[n % 3] if n % 2 else chance.choice(("floor", "mid")),
            loud=95,
        )
        for n in range(12)
    ]
    return made + landing(4, chance)


def sparse(chance: random.Random) -> Fill:
    """A few eighths, slow."""
    places = sorted(chance.sample(range(8), chance.randint(4, 7)))
    return [Beat(at=n / 2, pad=chance.choice(DOWN), loud=100) for n in places] + landing(4, chance)


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
    "closed rolls": (closed_roll, (55, 90)),
    "linear with kicks": (linear, (60, 140)),
    "two hands at once": (unisons, (70, 170)),
    "hi-hat pedal": (pedalled, (70, 160)),
    "kick pairs": (kicks, (70, 125)),
    "two pedals": (two_pedals, (110, 180)),
    "out of a groove": (into_groove, (70, 180)),
    "open hi-hat": (open_hats, (70, 140)),
    "hands apart": (crossed, (90, 200)),
    "slow and sparse": (sparse, (58, 85)),
}


def recorded(kind: str, seed: int) -> tuple[bytes, float]:
    """A MIDI file of one fill of a kind as a kit records it, and its tempo."""
    chance = random.Random(f"{kind} {seed}")
    make, (slow, fast) = KINDS[kind]
    tempo = chance.uniform(slow, fast)
    scatter = chance.uniform(0.005, 0.012)
    meant = in_time(make(chance), tempo)
    hits: list[Hit] = []
    for number, (seconds, beat) in enumerate(meant):
        near = [abs(other - seconds) for other, _ in meant[max(0, number - 3) : number + 4]]
        gap = min((each for each in near if each > 0.001), default=1.0)
        hits += sent(beat, seconds + chance.gauss(0, min(scatter, _SHARE_OF_GAP * gap)), chance)
    return as_midi(hits, tempo), tempo


def in_time(fill: Fill, tempo: float) -> list[tuple[float, Beat]]:
    """A fill in seconds; who lands on two crashes at once stops early to have both hands free."""
    meant = sorted((((4 + each.at) * 60 / tempo - each.ahead, each) for each in fill), key=lambda pair: pair[0])
    last, end = meant[-1][0], [each.pad for _, each in meant[-3:]]
    if not {"crash", "crash 2"} <= set(end):
        return meant
    return [
        (seconds, each)
        for seconds, each in meant
        if each.pad in ("kick", "pedal") or not 0 < last - seconds < _FREE_SECONDS
    ]
