"""Banks of recorded sounds: strokes of any source at the modelled kit's level, no two neighbours alike."""

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
"""Function that receives a warning, as a sentence for the user: the music can still be played."""

_GROOVE, _TEMPO, _BARS = "straight eighths", 100, 2  # standard phrase: name, bpm, bars; ours, not measured
_STEP_SECONDS = 0.6  # gap between strokes of a source that can't play the groove; ours, not measured
_SILENT = np.zeros((1, 2), np.float32)  # shortest silent sound: one sample


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecordedStroke:
    """One recorded stroke.

    Attributes:
        key: identity among the strokes of its source.
        samples: sound from its attack on, at the source's own level, shape (samples, 2).
        latency: number of samples that were removed before the attack.
    """

    key: Hashable
    samples: Samples
    latency: int = 0


class StrokeSource(Protocol):
    """A source of recorded strokes."""

    @property
    def name(self) -> str:
        """Name for the user: that of the file or folder."""

    @property
    def digest(self) -> str:
        """Hash of everything that its sounds depend on."""

    @property
    def choked_by(self) -> Mapping[str, frozenset[str]]:
        """For each surface, the surfaces whose strokes stop it, on top of the rules of every mix."""

    @property
    def surfaces(self) -> Collection[str]:
        """Names of the surfaces that it may have sounds of."""

    def get_stroke(self, name: str, velocity: int, index: int) -> RecordedStroke | None:
        """Return a stroke, or None if the source has none.

        Args:
            name: name of the surface.
            velocity: 1 to 127.
            index: number of the stroke among those on this surface.
        """


class RecordedBank:
    """A sound bank of recordings; the modelled kit plays missing sounds, with one warning for each.

    It is safe to use from several threads.
    """

    def __init__(self, source: StrokeSource, warn: Warn) -> None:
        """Take a source and a function for warnings; no sound is read before the first request."""
        self._source = source
        self._warn = warn
        self._lock = threading.RLock()
        self._shots: dict[tuple[Hashable, int], Samples] = {}
        self._gain: float | None = None
        self._missing: set[str] = set()

    @property
    def name(self) -> str:
        """Name for the user: that of the file or folder."""
        return self._source.name

    @property
    def digest(self) -> str:
        """Hash of everything that its sounds depend on."""
        return self._source.digest

    @property
    def choked_by(self) -> Mapping[str, frozenset[str]]:
        """For each surface, the surfaces whose strokes stop it."""
        return self._source.choked_by

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        """Return the sound of one stroke, as `SoundBank.get_shot` describes it."""
        with self._lock:
            stroke = self._source.get_stroke(resolve_surface(name), velocity, index)
            if stroke is None:
                self._warn_once(resolve_surface(name))
                return default_bank().get_shot(name, velocity, index)
            key = (stroke.key, index % VARIATIONS)
            shot = self._shots.get(key)
            if shot is None:
                shot = self._shots[key] = self._finish(stroke, key[1])
            return shot

    def find_latency(self, name: str, velocity: int) -> int:
        """Return the number of samples before the attack of a surface's recording; 0 if it has none."""
        with self._lock:
            stroke = self._source.get_stroke(resolve_surface(name), velocity, 0)
            return stroke.latency if stroke else 0

    @property
    def gain(self) -> float:
        """Gain of the bank, as a factor: a standard phrase is as loud as on the modelled kit."""
        with self._lock:
            if self._gain is None:
                self._gain = _match_gain(self._source)
            return self._gain

    @property
    def shots_held(self) -> int:
        """Number of finished sounds in memory."""
        return len(self._shots)

    def _finish(self, stroke: RecordedStroke, variation: int) -> Samples:
        """Return a stroke with a variation, at the bank's level."""
        return trim_end(soften_peaks(vary_stroke(stroke.samples, variation) * np.float32(self.gain)))

    def _warn_once(self, name: str) -> None:
        """Warn once that a surface has no sound; clicks are always the modelled kit's."""
        if name not in self._missing and "click" not in name:
            self._missing.add(name)
            self._warn(f'"{self._source.name}" has no sound for {name}; the modelled kit plays it.')


class _SourceBank:
    """A bank of a source's strokes as they are, silent where it has none."""

    def __init__(self, source: StrokeSource) -> None:
        self._source = source

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        stroke = self._source.get_stroke(name, velocity, index)
        return stroke.samples if stroke else _SILENT


def _match_gain(source: StrokeSource) -> float:
    """Return the gain that matches the modelled kit on the standard phrase, with peaks below the ceiling."""
    strikes = _choose_standard(
        [name for name in source.surfaces if source.get_stroke(name, ACCENT_VELOCITY, 0)]
    )
    unscaled = mix(strikes, bank=_SourceBank(source))
    peak = measure_true_peak(unscaled)
    if not peak:
        return 1.0
    matched = db_to_amplitude(measure_loudness(mix(strikes, bank=default_bank())) - measure_loudness(unscaled))
    return min(float(matched), float(db_to_amplitude(CEILING_DB)) / peak)


def _choose_standard(names: Collection[str]) -> tuple[Strike, ...]:
    """Return two bars of a plain groove on the surfaces of a source, or else each of its sounds once."""
    groove = build_phrase(find_groove(_GROOVE), None, bars=_BARS)
    strikes = tuple(strike for strike in list_strikes(time_phrase(groove, _TEMPO)) if strike.name in names)
    return strikes or tuple(
        Strike(name=name, onset_seconds=number * _STEP_SECONDS, velocity=ACCENT_VELOCITY)
        for number, name in enumerate(names)
    )
