"""Banks of recorded sounds: somebody else's strokes at our level, each a little different from the last."""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection, Hashable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from fillwright.music.grooves import find_groove
from fillwright.music.phrase import build_phrase
from fillwright.music.timing import time_phrase
from fillwright.sound.files.loudness import measure_loudness
from fillwright.sound.files.peak import CEILING_DB, measure_true_peak
from fillwright.sound.model.bank import default_bank, resolve_surface
from fillwright.sound.model.instrument import ACCENT_VELOCITY
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike, list_strikes
from fillwright.sound.samples.attack import soften_peaks, trim_end
from fillwright.sound.samples.variation import VARIATIONS, vary_stroke
from fillwright.sound.signal import Samples, db_to_amplitude

Warn = Callable[[str], None]
"""Told a sentence for the user; nothing has gone wrong that can't be played."""

_GROOVE, _TEMPO, _BARS = "straight eighths", 100, 2
_STEP_SECONDS = 0.6
_SILENT = np.zeros((1, 2), np.float32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecordedStroke:
    """One recorded stroke.

    Attributes:
        key: tells it from other takes of its source.
        samples: from its attack on, at the source's own level, shape (samples, 2).
        latency: samples that were taken away before the attack.
    """

    key: Hashable
    samples: Samples
    latency: int = 0


class StrokeSource(Protocol):
    """Where recorded strokes come from."""

    @property
    def name(self) -> str:
        """As the user knows it."""

    @property
    def digest(self) -> str:
        """A hash of everything that its sounds depend on."""

    @property
    def choked_by(self) -> Mapping[str, frozenset[str]]:
        """The surfaces whose strokes stop a surface, beside what every mix chokes."""

    @property
    def surfaces(self) -> Collection[str]:
        """Names of the surfaces that it may have."""

    def get_stroke(self, name: str, velocity: int, index: int) -> RecordedStroke | None:
        """A stroke, or None where there is none.

        Args:
            name: of the surface.
            velocity: 1 to 127.
            index: the stroke's number among those on this surface.
        """


class RecordedBank:
    """A sound bank of recordings; what they lack is played by the modelled kit, and said once.

    Safe to use from several threads.
    """

    def __init__(self, source: StrokeSource, warn: Warn) -> None:
        """Of this source; nothing is played before the first stroke is asked for."""
        self._source = source
        self._warn = warn
        self._lock = threading.RLock()
        self._shots: dict[tuple[Hashable, int], Samples] = {}
        self._gain: float | None = None
        self._missed: set[str] = set()

    @property
    def name(self) -> str:
        """As the user knows it."""
        return self._source.name

    @property
    def digest(self) -> str:
        """A hash of everything that its sounds depend on."""
        return self._source.digest

    @property
    def choked_by(self) -> Mapping[str, frozenset[str]]:
        """The surfaces whose strokes stop a surface."""
        return self._source.choked_by

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        """The sound of one stroke, as `SoundBank.shot` has it."""
        with self._lock:
            take = self._source.get_stroke(resolve_surface(name), velocity, index)
            if take is None:
                self._miss(resolve_surface(name))
                return default_bank().get_shot(name, velocity, index)
            key = (take.key, index % VARIATIONS)
            found = self._shots.get(key)
            if found is None:
                found = self._shots[key] = self._finished(take, key[1])
            return found

    def latency(self, name: str, velocity: int) -> int:
        """How many samples of a surface's recording lay before its attack; 0 where there is none."""
        with self._lock:
            take = self._source.get_stroke(resolve_surface(name), velocity, 0)
            return take.latency if take else 0

    @property
    def gain(self) -> float:
        """The bank's one gain, as a factor: it makes a standard phrase as loud as the modelled kit's."""
        with self._lock:
            if self._gain is None:
                self._gain = _gain(self._source)
            return self._gain

    @property
    def made(self) -> int:
        """How many finished sounds it holds by now."""
        return len(self._shots)

    def _finished(self, take: RecordedStroke, way: int) -> Samples:
        return trim_end(soften_peaks(vary_stroke(take.samples, way) * np.float32(self.gain)))

    def _miss(self, name: str) -> None:
        """Say once that a surface is missing; clicks are always the modelled kit's."""
        if name not in self._missed and "click" not in name:
            self._missed.add(name)
            self._warn(f'"{self._source.name}" has no sound for {name}; the modelled kit plays it.')


class _Bare:
    """A source's takes as they are, silence where it has none."""

    def __init__(self, source: StrokeSource) -> None:
        self._source = source

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        take = self._source.get_stroke(name, velocity, index)
        return take.samples if take else _SILENT


def _gain(source: StrokeSource) -> float:
    """As loud as the modelled kit on the standard phrase, but not so that its peaks pass the ceiling."""
    played = _standard([name for name in source.surfaces if source.get_stroke(name, ACCENT_VELOCITY, 0)])
    bare = mix(played, bank=_Bare(source))
    peak = measure_true_peak(bare)
    if not peak:
        return 1.0
    matched = db_to_amplitude(measure_loudness(mix(played, bank=default_bank())) - measure_loudness(bare))
    return min(float(matched), float(db_to_amplitude(CEILING_DB)) / peak)


def _standard(names: Collection[str]) -> tuple[Strike, ...]:
    """Two bars of a plain groove as far as a source can play it; where it can't at all, each sound once."""
    groove = build_phrase(find_groove(_GROOVE), None, bars=_BARS)
    played = tuple(strike for strike in list_strikes(time_phrase(groove, _TEMPO)) if strike.name in names)
    return played or tuple(
        Strike(name=name, onset_seconds=number * _STEP_SECONDS, velocity=ACCENT_VELOCITY)
        for number, name in enumerate(names)
    )
