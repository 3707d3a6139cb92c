"""Takes with known truth, the same ones on every run.

    for take in takes("tune", "room 30 dB", count=24):
        heard = hear(take.samples, take.rate)
        ... match(heard, take.expected) against take.truth

`split` is "tune", "report" or "odd" (see `kits.KITS`); pieces differ between "tune" and the others too. Take
number n of a split is played the same way in every condition; only the recording differs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from zlib import crc32

import numpy as np
import numpy.typing as npt

from bench.listening.kits import LEAD, RATE, Kit, bank_of, kits
from bench.listening.lessons import Piece, pieces
from bench.listening.playing import Manner, Played, Player, Truth, lengths
from bench.listening.rooms import BUSES, CONDITIONS, bus_of
from fillwright.listen.written import WrittenPhrase, write_phrase
from fillwright.music.surfaces import load_surfaces
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike

CONDITION_NAMES = tuple(CONDITIONS)
_TAIL_SECONDS = 1.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Take:
    """A recording and what is truly in it.

    Attributes:
        name: split, number, piece and kit.
        kit: its name.
        condition: how it was recorded.
        samples: mono, shape (samples,), between -1 and 1.
        rate: samples a second.
        expected: what is written, at the intended tempo; the truth's tempo differs a little.
        truth: what was played.
    """

    name: str
    kit: str
    condition: str
    samples: npt.NDArray[np.float32]
    rate: int
    expected: WrittenPhrase
    truth: Truth


def takes(split: str, condition: str, count: int = 24) -> Iterator[Take]:
    """Takes of a split under a condition, one for each number from 0.

    Args:
        split: "tune", "report" or "odd".
        condition: one of `CONDITION_NAMES`.
        count: how many.
    """
    for number in range(count):
        yield take(split, condition, number)


def flam_takes(split: str, condition: str, count: int = 12) -> Iterator[Take]:
    """Takes as above, of pieces with flams alone."""
    for number in range(count):
        yield take(split, condition, 1000 + number, of="flam")


def drill(split: str, condition: str, number: int, seconds: float = 20.0) -> Take:
    """Strokes all over the kit in no order at all, 40 ms to half a second apart, under whatever rings on."""
    chance = np.random.default_rng([crc32(f"{split} drill".encode()), number])
    there = kits(split)
    kit = there[number % len(there)]
    names = tuple(load_surfaces())
    places = np.cumsum(
        chance.choice([0.04, 0.08, 0.12, 0.2, 0.35, 0.5], int(seconds / 0.2)) * chance.uniform(0.9, 1.2)
    )
    played = tuple(
        Played(seconds=float(at), surface=str(chance.choice(names)), velocity=int(chance.integers(35, 125)))
        for at in 0.5 + places[places < seconds]
    )
    truth = Truth(
        played=played, missing=(), starts=(), bar_starts=(), tempo=0.0, rush_percent=0.0, wobble_ms=0.0
    )
    nothing = WrittenPhrase(strokes=(), bar_starts=(0.0, seconds), beats=(), tempo=0.0)
    return _recorded(truth, nothing, kit, f"{split} drill {number} on {kit.name}", condition)


def take(split: str, condition: str, number: int, *, of: str = "") -> Take:
    """One take, of a piece with `of` in its name."""
    chance = np.random.default_rng([crc32(split.encode()), number])
    there = kits(split)
    kit = there[number % len(there)]
    piece = _piece(split, of, chance)
    tempo = float(chance.choice(piece.ladder))
    expected = write_phrase(piece.phrase, tempo, piece.feel)
    truth = _performance(piece, expected, tempo, chance)
    name = f"{split} {number}: {piece.name} at {tempo:g} on {kit.name}"
    return _recorded(truth, expected, kit, name, condition)


def _recorded(truth: Truth, expected: WrittenPhrase, kit: Kit, name: str, condition: str) -> Take:
    recorder = np.random.default_rng([crc32(condition.encode()), crc32(name.encode())])
    samples, rate = CONDITIONS[condition](_buses(truth, kit), _click_beats(expected, truth), recorder)
    peak = np.abs(samples).max()
    loud = 1.0 if condition == "clipped" else recorder.uniform(0.1, 0.9)
    return Take(
        name=name,
        kit=kit.name,
        condition=condition,
        samples=(samples / peak * loud).astype(np.float32),
        rate=rate,
        expected=expected,
        truth=truth,
    )


def _piece(split: str, of: str, chance: np.random.Generator) -> Piece:
    half = [piece for piece in pieces()[0 if split == "tune" else 1 :: 2] if of in piece.name]
    return half[int(chance.integers(len(half)))]


def _manner(tempo: float, chance: np.random.Generator) -> Manner:
    """A third of the players are steady; a third of all rush or drag the fill."""
    steady = chance.random() < 1 / 3
    rush = float(chance.choice([0, 0, 0, 0, 4, -3]))
    return Manner(
        tempo=tempo * float(chance.uniform(0.96, 1.05)),
        rush_percent=rush,
        wobble_ms=5.0 if steady else float(chance.uniform(6, 20)),
        drift=0.0 if steady else 0.01,
        missing=0.05,
        extra=0.03,
        wrong=0.04,
    )


def _performance(piece: Piece, expected: WrittenPhrase, tempo: float, chance: np.random.Generator) -> Truth:
    manner = _manner(tempo, chance)
    player = Player(
        expected=expected,
        lengths=lengths(piece.phrase, tempo, piece.feel, expected),
        manner=manner,
        chance=chance,
    )
    at = float(chance.uniform(0.3, 3.0))
    at = _false_start(player, at) if chance.random() < 0.15 else at
    at = _count_in(player, at) if chance.random() < 0.5 else at
    starts, bars = [], []
    for repeat in range(int(chance.choice([1, 1, 2, 3]))):
        starts.append(at)
        bars.append(tuple(float(x) for x in player.once(repeat, at)))
        at = bars[-1][-1] if repeat % 2 == 0 else bars[-1][-1] + float(chance.uniform(0, 2))
    return Truth(
        played=tuple(sorted(player.played, key=lambda one: one.seconds)),
        missing=tuple(player.missing),
        starts=tuple(starts),
        bar_starts=tuple(bars),
        tempo=manner.tempo,
        rush_percent=manner.rush_percent,
        wobble_ms=manner.wobble_ms,
    )


def _count_in(player: Player, at: float) -> float:
    """A bar counted with the sticks or the foot; returns where the phrase starts."""
    bar = player.expected.bar_starts[1]
    scale = player.expected.tempo / player.manner.tempo
    surface = str(player.chance.choice(["rim", "foot hi-hat", "hi-hat"]))
    for beat in (one for one in player.expected.beats if one < bar - 1e-9):
        wobble = player.chance.normal(0, 0.006)
        player.played.append(
            Played(seconds=float(at + beat * scale + wobble), surface=surface, velocity=75, role="count-in")
        )
    return at + bar * scale


def _false_start(player: Player, at: float) -> float:
    """Some strokes of the phrase, then a stop; returns where it starts afresh."""
    scale = player.expected.tempo / player.manner.tempo
    until = float(player.chance.uniform(0.5, 1.6)) * player.expected.bar_starts[1]
    last = at
    for one in player.expected.strokes:
        if one.grace_of is None and 0 <= one.seconds < until:
            last = float(at + one.seconds * scale + player.chance.normal(0, 0.006))
            player.played.append(
                Played(seconds=last, surface=one.surface, velocity=one.velocity, role="false start")
            )
    return last + float(player.chance.uniform(1.0, 2.5))


def _buses(truth: Truth, kit: Kit) -> dict[str, npt.NDArray[np.float64]]:
    """The parts of the kit, each in mono, every attack at its exact sample."""
    length = round((truth.played[-1].seconds + _TAIL_SECONDS) * RATE)
    made = {}
    for bus in BUSES:
        struck = [
            Strike(name=one.surface, onset_seconds=one.seconds - LEAD / RATE, velocity=one.velocity)
            for one in truth.played
            if bus_of(one.surface) == bus
        ]
        if struck:
            made[bus] = mix(struck, samples=length, bank=bank_of(kit)).mean(axis=1).astype(np.float64)
    return made


def _click_beats(expected: WrittenPhrase, truth: Truth) -> tuple[float, ...]:
    """Where a click in the headphones falls: on the beats, bar by bar as the player takes them."""
    made = []
    for bars in truth.bar_starts:
        made += list(np.interp(expected.beats, expected.bar_starts, bars))
    return tuple(float(x) for x in made)
