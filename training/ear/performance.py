"""Performances: phrases on kits that are put together at random, as rows that the mixer adds up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from training.ear.phrases import Played, play_phrase
from training.ear.shots import Shot
from training.ear.sounds import LEAD, RATE, SOUNDS, TOMS

Chance = np.random.Generator

ROW = np.dtype(
    [
        ("clip", np.int64),  # number in the batch
        ("start", np.float64),  # sample at which the shot begins, before its attack
        ("shot", np.int64),  # number of the shot
        ("gain", np.float64),  # amplitude against the shot's own first 60 ms
        ("speed", np.float64),  # 2 is an octave up
        ("cut", np.float64),  # samples after which it is choked; negative for a slow rise of snare wires
        ("stem", np.int64),  # group of sounds at one place
        ("label", np.int64),  # class; -1 for a sound that is not a stroke
        ("pitch_hz", np.float64),  # of a tom; else 0
        ("seconds", np.float64),  # of the attack
    ]
)
Rows = npt.NDArray[Any]

# All ours, not measured.
_GAIN_DB, _TOM_GAIN_DB, _TOMS_GAIN_DB = 3.5, 1.5, 3.0  # deviations of a drum, one tom, all toms
_STROKE_DB = 0.6  # deviation of a stroke
_VELOCITY_SPREAD = 14.0  # by which another layer's shot may be chosen
_DYNAMICS = (0.9, 1.9)  # amplitude is velocity to this power, from a careful player to a free one
_TOM_COUNTS, _TOM_SHARES = (1, 2, 3, 4), (0.05, 0.15, 0.5, 0.3)
_WIRES_SHARE, _WIRES_DB, _WIRES_SECONDS = 0.5, (-38.0, -20.0), 0.004  # snare wires that answer other drums
_OTHER_DB = (-20.0, 4.0)  # of sounds that are not drums, against the snare
_TOM_SETS = {
    1: ("floor tom",),
    2: ("high tom", "floor tom"),
    3: ("high tom", "mid tom", "floor tom"),
    4: TOMS,
}


class ShotLibrary:
    """The shots of some kits, by kit, sound and drum.

    Args:
        shots: all shots; rows name them by number.
        weights: kits to choose from, with how often; others are not used.
    """

    def __init__(self, shots: Sequence[Shot], weights: Mapping[str, float]) -> None:
        self.shots = shots
        self.kits = tuple(weights)
        self.shares = np.array(list(weights.values())) / sum(weights.values())
        self._numbers: dict[tuple[str, str], dict[int, list[int]]] = {}
        for number, shot in enumerate(shots):
            if shot.kit in weights:
                self._numbers.setdefault((shot.kit, shot.sound), {}).setdefault(shot.drum, []).append(number)

    def choose_kit(self, chance: Chance) -> str:
        """Return the name of a kit."""
        return self.kits[int(chance.choice(len(self.kits), p=self.shares))]

    def list_drums(self, kit: str, sound: str) -> list[int]:
        """Return the numbers of a kit's drums with a sound."""
        return list(self._numbers.get((kit, sound), ()))

    def list_kits_with(self, sound: str) -> list[str]:
        """Return the kits that have a sound."""
        return [kit for kit in self.kits if (kit, sound) in self._numbers]

    def choose_shot(self, drum: Drum, velocity: int, chance: Chance) -> int:
        """Return the number of a shot of about the velocity."""
        numbers = self._numbers[drum.kit, drum.sound][drum.number]
        away = [
            abs(self.shots[n].velocity - velocity) + float(chance.uniform(0, _VELOCITY_SPREAD)) for n in numbers
        ]
        return numbers[int(np.argmin(away))]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drum:
    """One drum or cymbal of a kit: its shots, gain and speed."""

    kit: str
    sound: str
    number: int
    gain_db: float
    speed: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MixedKit:
    """A kit for one performance: drums by sound, and the toms that it has."""

    drums: Mapping[str, Drum] = field(default_factory=dict)
    toms: tuple[str, ...] = ()

    def find_drum(self, sound: str) -> Drum:
        """Return the drum of a sound, or its substitute."""
        return self.drums.get(sound) or self.drums[SOUNDS[sound].substitute]


def mix_kit(library: ShotLibrary, chance: Chance, *, mixed_share: float, pitch_spread: float) -> MixedKit:
    """Return a random kit; its drums come from one kit, and some of them from others.

    Args:
        library: the shots.
        chance: source of random numbers.
        mixed_share: probability of each drum to come from another kit; toms stay together.
        pitch_spread: natural logarithm of the greatest factor on a drum's pitch.
    """
    main = library.choose_kit(chance)
    tom_kit = library.choose_kit(chance) if chance.random() < mixed_share else main
    tom_speed, tom_gain = (
        float(np.exp(chance.uniform(-pitch_spread, pitch_spread))),
        chance.normal(0, _TOMS_GAIN_DB),
    )
    drums: dict[str, Drum] = {}
    for sound, facts in SOUNDS.items():
        kit = library.choose_kit(chance) if chance.random() < mixed_share else main
        kit = tom_kit if facts.is_tom else kit
        if not library.list_drums(kit, sound):
            others = library.list_kits_with(sound)
            if facts.is_tom or (facts.substitute and library.list_drums(kit, facts.substitute)) or not others:
                continue
            kit = others[int(chance.integers(len(others)))]
        speed = float(np.exp(chance.uniform(-pitch_spread, pitch_spread)))
        gain = facts.loudness_db + chance.normal(0, _GAIN_DB)
        if facts.is_tom:
            speed = tom_speed * float(np.exp(chance.normal(0, pitch_spread / 14)))
            gain = facts.loudness_db + tom_gain + chance.normal(0, _TOM_GAIN_DB)
        elif sound == "not a drum":
            gain = float(chance.uniform(*_OTHER_DB))
        number = int(chance.choice(library.list_drums(kit, sound)))
        drums[sound] = Drum(kit=kit, sound=sound, number=number, gain_db=float(gain), speed=speed)
    for sound, like in (("foot hi-hat", "hi-hat"), ("open hi-hat", "hi-hat"), ("ride bell", "ride bow")):
        if sound in drums and drums[sound].kit == drums[like].kit:
            gain = SOUNDS[sound].loudness_db - SOUNDS[like].loudness_db + drums[like].gain_db
            drums[sound] = Drum(
                kit=drums[sound].kit,
                sound=sound,
                number=drums[sound].number,
                gain_db=gain,
                speed=drums[like].speed,
            )
    count = int(chance.choice(_TOM_COUNTS, p=_TOM_SHARES))
    return MixedKit(drums=drums, toms=tuple(name for name in _TOM_SETS[count] if name in drums))


def perform(
    library: ShotLibrary, kit: MixedKit, strokes: Sequence[Played], clip: int, chance: Chance
) -> list[tuple[Any, ...]]:
    """Return the rows of some strokes on a kit; hi-hats choke the open one."""
    dynamics = float(chance.uniform(*_DYNAMICS))
    hats = np.array([time for time, name, _ in strokes if "hi-hat" in name])
    rows = []
    for time, name, velocity in strokes:
        drum = kit.find_drum(name)
        number = library.choose_shot(drum, velocity, chance)
        later = hats[hats > time + 0.004] if name == "open hi-hat" else hats[:0]
        loudness = (
            drum.gain_db + dynamics * 20 * np.log10(max(velocity, 8) / 100) + chance.normal(0, _STROKE_DB)
        )
        rows.append(
            (
                clip,
                time * RATE - LEAD / drum.speed,
                number,
                10 ** (loudness / 20),
                drum.speed,
                (later[0] - time) * RATE if len(later) else 1e9,
                SOUNDS[name].stem,
                SOUNDS[name].label_index,
                library.shots[number].pitch_hz * drum.speed,
                time,
            )
        )
    return rows


def perform_wires(
    library: ShotLibrary, kit: MixedKit, strokes: Sequence[Played], clip: int, chance: Chance
) -> list[tuple[Any, ...]]:
    """Return the rows of snare wires that rattle when other drums are struck; no strokes of their own."""
    drum, level = kit.find_drum("snare"), float(chance.uniform(*_WIRES_DB))
    rows = []
    for time, name, _ in strokes:
        if name == "kick" or name in TOMS:
            gain = 10 ** ((level + drum.gain_db + float(chance.normal(0, 2))) / 20)
            number, start = library.choose_shot(drum, 60, chance), (time + _WIRES_SECONDS) * RATE
            rows.append((clip, start, number, gain, drum.speed, -1.0, SOUNDS["snare"].stem, -1, 0.0, time))
    return rows


def perform_batch(
    library: ShotLibrary,
    chance: Chance,
    clips: int,
    seconds: float,
    *,
    mixed_share: float = 0.35,
    pitch_spread: float = 0.14,
) -> Rows:
    """Return the rows of several performances, by default with mixed kits and pitches ±14 %."""
    rows: list[tuple[Any, ...]] = []
    for clip in range(clips):
        kit = mix_kit(library, chance, mixed_share=mixed_share, pitch_spread=pitch_spread)
        strokes = play_phrase(chance, seconds, kit.toms)
        rows += perform(library, kit, strokes, clip, chance)
        if chance.random() < _WIRES_SHARE:
            rows += perform_wires(library, kit, strokes, clip, chance)
    return np.array(rows, dtype=ROW)
