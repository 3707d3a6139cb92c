"""A simulated student: steady or drifting, rushing the fill, now and then missing or adding a stroke."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from fillwright.listen.written import WrittenPhrase
from fillwright.music.phrase import Phrase
from fillwright.music.timing import Feel, time_phrase
from fillwright.sound.playalong.strikes import generate_bounces

Floats = npt.NDArray[np.float64]
Warp = Callable[[Floats], Floats]
"""A map from written seconds at the intended tempo to the player's own."""

# All ours, not measured.
_NEIGHBOURS = {"snare": "high tom", "high tom": "mid tom", "mid tom": "floor tom", "floor tom": "snare"}
_TOGETHER_MS = 2.5  # standard deviation between strokes of one moment
_MOST_TOGETHER_SECONDS = 0.004  # and at most
_CLOSEST = 0.3  # share of the gap to a neighbour by which a stroke may be off, at most
_WARP_STEP_SECONDS = 0.005  # between points of a warp
_MOST_GRACE_SHARE = 0.5  # of the gap to the stroke before, for a grace note
_EXTRA_APART_SECONDS = 0.045  # from every other stroke, for an extra one
_EXTRA_VELOCITY, _EXTRA_SURFACES = 70, ["snare", "hi-hat", "kick", "high tom", "floor tom"]
_VELOCITY_DEVIATION, _LEAST_VELOCITY, _MOST_VELOCITY = 7, 18, 127  # of every stroke


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedSound:
    """One sound of a take, as it truly is.

    Attributes:
        seconds: start of its attack, from the start of the take.
        surface: drum or cymbal struck.
        velocity: 1 to 127.
        role: "stroke", "grace", "bounce" (of a buzz), "extra", "count-in" or "false start".
        repetition: number of the repetition, from 0; -1 outside of one.
        written: its index in `WrittenPhrase.strokes`; None for what is not written.
        grid_seconds: where the player's own tempo puts it, without the deviation of the hand; of a grace note,
            where its main note was struck; None as above.
        right_surface: True if it was struck where it is written.
    """

    seconds: float
    surface: str
    velocity: int
    role: str = "stroke"
    repetition: int = -1
    written: int | None = None
    grid_seconds: float | None = None
    right_surface: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeTruth:
    """Everything that was truly played.

    Attributes:
        played: every sound, ascending in time.
        missing: (repetition, index in `WrittenPhrase.strokes`) of strokes left out; a grace note goes with its
            main note.
        starts: seconds in the take of the first beat of every repetition.
        bar_starts: of every repetition, the bar starts of the player's own tempo and the end of the last bar.
        tempo: of the groove, in bpm of the meter's beat.
        rush_percent: how much faster the fill is than the groove; - drags.
        deviation_ms: standard deviation of the hand.
    """

    played: tuple[PlayedSound, ...]
    missing: tuple[tuple[int, int], ...]
    starts: tuple[float, ...]
    bar_starts: tuple[tuple[float, ...], ...]
    tempo: float
    rush_percent: float
    deviation_ms: float

    def list_flams(self) -> tuple[tuple[float, float], ...]:
        """Return the seconds of the grace note and the main note of every flam that was played."""
        by_main: dict[float, list[float]] = {}
        for sound in self.played:
            if sound.role == "grace" and sound.grid_seconds is not None:
                by_main.setdefault(sound.grid_seconds, []).append(sound.seconds)
        return tuple((graces[0], main) for main, graces in by_main.items() if len(graces) == 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayingStyle:
    """The playing of one take.

    Attributes:
        tempo: of the groove, in bpm of the meter's beat.
        rush_percent: of the fill.
        deviation_ms: standard deviation of the hand.
        drift: largest change of tempo in the groove, as a share of it.
        missing: share of the strokes left out.
        extra: strokes added, as a share of all.
        wrong: share of the fill's strokes on another drum.
        flam_ms: shortest and longest flam.
    """

    tempo: float
    rush_percent: float = 0.0
    deviation_ms: float = 8.0
    drift: float = 0.0
    missing: float = 0.0
    extra: float = 0.0
    wrong: float = 0.0
    flam_ms: tuple[float, float] = (15.0, 60.0)


@dataclass(slots=True, kw_only=True)
class SimulatedPlayer:
    """Plays a phrase several times; every deviation comes from one seeded source.

    Attributes:
        phrase: to play.
        lengths: of its strokes, in seconds.
        style: of the player.
        chance: the seeded source.
        played: sounds so far.
        missing: (repetition, index) of strokes left out so far.
    """

    phrase: WrittenPhrase
    lengths: tuple[float, ...]
    style: PlayingStyle
    chance: np.random.Generator
    played: list[PlayedSound] = field(default_factory=list)
    missing: list[tuple[int, int]] = field(default_factory=list)

    def play_once(self, repetition: int, start: float) -> Floats:
        """Play the phrase from `start` seconds; return the bar starts of the player's own tempo."""
        warp = self._build_warp()
        moments = self._time_moments(warp)
        for index, stroke in enumerate(self.phrase.strokes):
            if stroke.grace_of is None:
                self._play_stroke(index, repetition, start, moments)
        self._add_extras(repetition, start, warp)
        return start + warp(np.array(self.phrase.bar_starts))

    def _build_warp(self) -> Warp:
        """Return a map from written seconds at the intended tempo to the player's own."""
        style, strokes, end = self.style, self.phrase.strokes, self.phrase.bar_starts[-1]
        written = np.arange(0.0, end + 0.01, _WARP_STEP_SECONDS)
        period = self.chance.uniform(0.6, 1.5) * end
        pace = 1 + style.drift * np.sin(2 * np.pi * (written / period + self.chance.uniform()))
        fill = [stroke.seconds for stroke in strokes if stroke.in_fill and stroke.grace_of is None]
        if fill:
            close = next(bar for bar in self.phrase.bar_starts if bar > fill[-1])
            pace[(written >= fill[0]) & (written < close)] /= 1 + style.rush_percent / 100
        pace *= self.phrase.tempo / style.tempo
        own = np.concatenate([[0.0], np.cumsum(pace[:-1] * _WARP_STEP_SECONDS)])
        return lambda seconds: np.where(seconds < 0, seconds, np.interp(seconds, written, own))

    def _time_moments(self, warp: Warp) -> dict[float, tuple[float, float]]:
        """Return for every written moment where the tempo puts it, and where the hand does."""
        written = sorted({stroke.seconds for stroke in self.phrase.strokes if stroke.grace_of is None})
        grid = warp(np.array(written))
        gaps = np.diff(grid)
        most = _CLOSEST * np.minimum(np.append(gaps, 1.0), np.insert(gaps, 0, 1.0))
        away = self.chance.normal(0, self.style.deviation_ms / 1000, len(grid))
        return dict(zip(written, zip(grid, grid + np.clip(away, -most, most), strict=True), strict=True))

    def _play_stroke(
        self, index: int, repetition: int, start: float, moments: dict[float, tuple[float, float]]
    ) -> None:
        stroke = self.phrase.strokes[index]
        graces = [number for number, other in enumerate(self.phrase.strokes) if other.grace_of == index]
        if self.chance.random() < self.style.missing:
            self.missing += [(repetition, number) for number in (*graces, index)]
            return
        grid, hand = moments[stroke.seconds]
        apart = np.clip(
            self.chance.normal(0, _TOGETHER_MS / 1000), -_MOST_TOGETHER_SECONDS, _MOST_TOGETHER_SECONDS
        )
        seconds = float(start + hand + apart)
        surface = stroke.surface
        if stroke.in_fill and surface in _NEIGHBOURS and self.chance.random() < self.style.wrong:
            surface = _NEIGHBOURS[surface]
        common = {"repetition": repetition, "right_surface": surface == stroke.surface}
        velocity = self._vary_velocity(stroke.velocity)
        self.played.append(
            PlayedSound(
                seconds=seconds,
                surface=surface,
                velocity=velocity,
                written=index,
                grid_seconds=start + float(grid),
                **common,
            )
        )
        self._play_graces(index, graces, seconds, surface, common)
        if stroke.buzz:
            for after, share in generate_bounces(self.lengths[index]):
                self.played.append(
                    PlayedSound(
                        seconds=seconds + after,
                        surface=surface,
                        velocity=max(1, round(velocity * share)),
                        role="bounce",
                        repetition=repetition,
                    )
                )

    def _play_graces(
        self, index: int, graces: Sequence[int], seconds: float, surface: str, common: dict[str, Any]
    ) -> None:
        """Play grace notes at a random distance, never more than half-way to the stroke before."""
        if not graces:
            return
        strokes, main = self.phrase.strokes, self.phrase.strokes[index]
        earlier = [
            stroke.seconds for stroke in strokes if stroke.seconds < main.seconds and stroke.grace_of is None
        ]
        most = _MOST_GRACE_SHARE * (main.seconds - max(earlier)) if earlier else 0.1
        gap = min(self.chance.uniform(*self.style.flam_ms) / 1000, most)
        for number, grace in enumerate(graces):
            stroke = strokes[grace]
            self.played.append(
                PlayedSound(
                    seconds=seconds - gap * (1 - number / len(graces)),
                    surface=surface if stroke.surface == main.surface else stroke.surface,
                    velocity=self._vary_velocity(stroke.velocity),
                    role="grace",
                    written=grace,
                    grid_seconds=seconds,
                    **common,
                )
            )

    def _add_extras(self, repetition: int, start: float, warp: Warp) -> None:
        """Add strokes that are not written, at least 45 ms from every other."""
        end = start + float(warp(np.array([self.phrase.bar_starts[-2]]))[0])
        count = self.chance.binomial(len(self.phrase.strokes), self.style.extra)
        for _ in range(count):
            seconds = float(self.chance.uniform(start, end))
            if min(abs(sound.seconds - seconds) for sound in self.played) > _EXTRA_APART_SECONDS:
                surface = str(self.chance.choice(_EXTRA_SURFACES))
                self.played.append(
                    PlayedSound(
                        seconds=seconds,
                        surface=surface,
                        velocity=self._vary_velocity(_EXTRA_VELOCITY),
                        role="extra",
                        repetition=repetition,
                    )
                )

    def _vary_velocity(self, velocity: int) -> int:
        varied = round(self.chance.normal(velocity, _VELOCITY_DEVIATION))
        return int(np.clip(varied, _LEAST_VELOCITY, _MOST_VELOCITY))


def list_lengths(phrase: Phrase, tempo: float, feel: Feel, written: WrittenPhrase) -> tuple[float, ...]:
    """Return how long every written stroke lasts, in seconds; grace notes 0."""
    lengths = {
        (timed.onset_seconds, timed.hit.surface.name): timed.length_seconds
        for timed in time_phrase(phrase, tempo, feel)
    }
    return tuple(
        0.0 if stroke.grace_of is not None else lengths[stroke.seconds, stroke.surface]
        for stroke in written.strokes
    )
