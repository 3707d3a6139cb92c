"""Takes with known truth, the same ones on every run with the same kits installed.

    for take in generate_takes("tune", "room 30 dB", count=24):
        detected = detect_onsets(take.samples, take.rate)
        ... align_take(take.written, detected) against take.truth

`split` is "tune", "report" or "odd" (see `kits.KITS`); pieces differ between "tune" and the others too. Take
number n of a split is played the same way in every condition; only the recording differs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from zlib import crc32

import numpy as np
import numpy.typing as npt

from bench.listening.conditions import BUSES, CONDITIONS, find_bus
from bench.listening.kits import LEAD, RATE, BenchKit, list_kits, load_bank
from bench.listening.pieces import Piece, list_pieces
from bench.listening.simulated_player import (
    PlayedSound,
    PlayingStyle,
    SimulatedPlayer,
    TakeTruth,
    list_lengths,
)
from fillwright.listen.written import WrittenPhrase, write_phrase
from fillwright.music.surfaces import load_surfaces
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike

# All ours, not measured.
_TAIL_SECONDS = 1.5  # after the last stroke
_FLAM_TAKES_FROM = 1000  # number of the first take of flams alone
_DRILL_GAPS_SECONDS = [0.04, 0.08, 0.12, 0.2, 0.35, 0.5]  # between strokes of a drill
_STEADY_SHARE, _STEADY_MS = 1 / 3, 5.0  # of the players who are steady, and their deviation
_RUSHES_PERCENT = [0, 0, 0, 0, 4, -3]  # of the fill, equally likely
_UNEVEN_MS, _DRIFT = (6, 20), 0.01  # range of the other players' deviations, and their change of tempo
_TEMPO_FACTORS = (0.96, 1.05)  # range of the played tempo against the intended one
_MISSING, _EXTRA, _WRONG = 0.05, 0.03, 0.04  # shares of strokes
_FALSE_START_SHARE, _COUNT_IN_SHARE = 0.15, 0.5  # of the takes
_REPETITIONS = [1, 1, 2, 3]  # equally likely
_COUNT_IN_VELOCITY = 75  # MIDI velocity
_FREE_DEVIATION_SECONDS = 0.006  # standard deviation of a count-in and of a false start


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnownTake:
    """A recording and its truth.

    Attributes:
        name: split, number, piece and kit.
        kit: its name.
        condition: of the recording.
        samples: mono, shape (samples,), between -1 and 1.
        rate: samples per second.
        written: the phrase at the intended tempo; the truth's tempo differs a little.
        truth: everything that was played.
    """

    name: str
    kit: str
    condition: str
    samples: npt.NDArray[np.float32]
    rate: int
    written: WrittenPhrase
    truth: TakeTruth


def generate_takes(split: str, condition: str, count: int = 24) -> Iterator[KnownTake]:
    """Yield takes of a split under a condition, one for each number from 0; none if no kit is installed.

    Args:
        split: "tune", "report" or "odd".
        condition: one of `CONDITIONS`.
        count: number of takes.
    """
    for number in range(count if list_kits(split) else 0):
        yield generate_take(split, condition, number)


def generate_flam_takes(split: str, condition: str, count: int = 12) -> Iterator[KnownTake]:
    """Yield takes as above, only of pieces with flams."""
    for number in range(count if list_kits(split) else 0):
        yield generate_take(split, condition, _FLAM_TAKES_FROM + number, piece_name="flam")


def generate_drill(split: str, condition: str, number: int, seconds: float = 20.0) -> KnownTake:
    """Return strokes on random surfaces, 40 ms to half a second apart, while everything rings on."""
    chance = np.random.default_rng([crc32(f"{split} drill".encode()), number])
    kits = list_kits(split)
    kit = kits[number % len(kits)]
    names = tuple(load_surfaces())
    gaps = chance.choice(_DRILL_GAPS_SECONDS, int(seconds / 0.2)) * chance.uniform(0.9, 1.2)
    times = np.cumsum(gaps)
    played = tuple(
        PlayedSound(
            seconds=float(time), surface=str(chance.choice(names)), velocity=int(chance.integers(35, 125))
        )
        for time in 0.5 + times[times < seconds]
    )
    truth = TakeTruth(
        played=played, missing=(), starts=(), bar_starts=(), tempo=0.0, rush_percent=0.0, deviation_ms=0.0
    )
    nothing = WrittenPhrase(strokes=(), bar_starts=(0.0, seconds), beats=(), tempo=0.0)
    return record_truth(truth, nothing, kit, f"{split} drill {number} on {kit.name}", condition)


def generate_take(split: str, condition: str, number: int, *, piece_name: str = "") -> KnownTake:
    """Return one take, of a piece with `piece_name` in its name."""
    chance = np.random.default_rng([crc32(split.encode()), number])
    kits = list_kits(split)
    kit = kits[number % len(kits)]
    piece = _choose_piece(split, piece_name, chance)
    tempo = float(chance.choice(piece.ladder))
    written = write_phrase(piece.phrase, tempo, piece.feel)
    truth = _perform(piece, written, tempo, chance)
    name = f"{split} {number}: {piece.name} at {tempo:g} on {kit.name}"
    return record_truth(truth, written, kit, name, condition)


def record_truth(
    truth: TakeTruth, written: WrittenPhrase, kit: BenchKit, name: str, condition: str
) -> KnownTake:
    """Return the recording of what was played, on a kit under a condition."""
    chance = np.random.default_rng([crc32(condition.encode()), crc32(name.encode())])
    samples, rate = CONDITIONS[condition](_mix_buses(truth, kit), _list_clicks(written, truth), chance)
    peak = np.abs(samples).max()
    level = 1.0 if condition == "clipped" else chance.uniform(0.1, 0.9)
    return KnownTake(
        name=name,
        kit=kit.name,
        condition=condition,
        samples=(samples / peak * level).astype(np.float32),
        rate=rate,
        written=written,
        truth=truth,
    )


def _choose_piece(split: str, piece_name: str, chance: np.random.Generator) -> Piece:
    """Return a random piece of the split's half."""
    half = [piece for piece in list_pieces()[0 if split == "tune" else 1 :: 2] if piece_name in piece.name]
    return half[int(chance.integers(len(half)))]


def _choose_style(tempo: float, chance: np.random.Generator) -> PlayingStyle:
    """Return a random style: a third of the players are steady; a third of all rush or drag the fill."""
    steady = chance.random() < _STEADY_SHARE
    rush = float(chance.choice(_RUSHES_PERCENT))
    return PlayingStyle(
        tempo=tempo * float(chance.uniform(*_TEMPO_FACTORS)),
        rush_percent=rush,
        deviation_ms=_STEADY_MS if steady else float(chance.uniform(*_UNEVEN_MS)),
        drift=0.0 if steady else _DRIFT,
        missing=_MISSING,
        extra=_EXTRA,
        wrong=_WRONG,
    )


def _perform(piece: Piece, written: WrittenPhrase, tempo: float, chance: np.random.Generator) -> TakeTruth:
    style = _choose_style(tempo, chance)
    player = SimulatedPlayer(
        phrase=written,
        lengths=list_lengths(piece.phrase, tempo, piece.feel, written),
        style=style,
        chance=chance,
    )
    seconds = float(chance.uniform(0.3, 3.0))
    seconds = _play_false_start(player, seconds) if chance.random() < _FALSE_START_SHARE else seconds
    seconds = _play_count_in(player, seconds) if chance.random() < _COUNT_IN_SHARE else seconds
    starts, bars = [], []
    for repetition in range(int(chance.choice(_REPETITIONS))):
        starts.append(seconds)
        bars.append(tuple(float(bar) for bar in player.play_once(repetition, seconds)))
        seconds = bars[-1][-1] if repetition % 2 == 0 else bars[-1][-1] + float(chance.uniform(0, 2))
    return TakeTruth(
        played=tuple(sorted(player.played, key=lambda sound: sound.seconds)),
        missing=tuple(player.missing),
        starts=tuple(starts),
        bar_starts=tuple(bars),
        tempo=style.tempo,
        rush_percent=style.rush_percent,
        deviation_ms=style.deviation_ms,
    )


def _play_count_in(player: SimulatedPlayer, start: float) -> float:
    """Play a bar counted with the sticks or the foot; return the start of the phrase."""
    bar = player.phrase.bar_starts[1]
    scale = player.phrase.tempo / player.style.tempo
    surface = str(player.chance.choice(["rim", "foot hi-hat", "hi-hat"]))
    for beat in (beat for beat in player.phrase.beats if beat < bar - 1e-9):
        away = player.chance.normal(0, _FREE_DEVIATION_SECONDS)
        player.played.append(
            PlayedSound(
                seconds=float(start + beat * scale + away),
                surface=surface,
                velocity=_COUNT_IN_VELOCITY,
                role="count-in",
            )
        )
    return start + bar * scale


def _play_false_start(player: SimulatedPlayer, start: float) -> float:
    """Play some strokes of the phrase, then stop; return the next start."""
    scale = player.phrase.tempo / player.style.tempo
    until = float(player.chance.uniform(0.5, 1.6)) * player.phrase.bar_starts[1]
    last = start
    for stroke in player.phrase.strokes:
        if stroke.grace_of is None and 0 <= stroke.seconds < until:
            away = player.chance.normal(0, _FREE_DEVIATION_SECONDS)
            last = float(start + stroke.seconds * scale + away)
            player.played.append(
                PlayedSound(seconds=last, surface=stroke.surface, velocity=stroke.velocity, role="false start")
            )
    return last + float(player.chance.uniform(1.0, 2.5))


def _mix_buses(truth: TakeTruth, kit: BenchKit) -> dict[str, npt.NDArray[np.float64]]:
    """Return the parts of the kit, each in mono, every attack at its exact sample."""
    length = round((truth.played[-1].seconds + _TAIL_SECONDS) * RATE)
    buses = {}
    for bus in BUSES:
        strikes = [
            Strike(name=sound.surface, onset_seconds=sound.seconds - LEAD / RATE, velocity=sound.velocity)
            for sound in truth.played
            if find_bus(sound.surface) == bus
        ]
        if strikes:
            buses[bus] = mix(strikes, samples=length, bank=load_bank(kit)).mean(axis=1).astype(np.float64)
    return buses


def _list_clicks(written: WrittenPhrase, truth: TakeTruth) -> tuple[float, ...]:
    """Return the times of a click in the headphones: on the beats, bar by bar as the player takes them."""
    clicks = []
    for bars in truth.bar_starts:
        clicks += list(np.interp(written.beats, written.bar_starts, bars))
    return tuple(float(seconds) for seconds in clicks)
