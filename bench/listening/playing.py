"""How a student plays: steady or drifting, rushing the fill, now and then missing or adding a stroke."""

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

_NEIGHBOURS = {"snare": "high tom", "high tom": "mid tom", "mid tom": "floor tom", "floor tom": "snare"}
_TOGETHER_MS = 2.5
_CLOSEST = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """One sound of a take, as it truly is.

    Attributes:
        seconds: where its attack starts, from the start of the take.
        surface: what was struck.
        velocity: how hard.
        role: "stroke", "grace", "bounce" (of a buzz), "extra", "count-in" or "false start".
        repeat: which time through the phrase, from 0; -1 outside of it.
        written: its index in `Expected.strokes`; None for what is not written.
        grid_seconds: where the player's own tempo puts it, without the wobble of the hand; of a grace note,
            where its main note was struck; None as above.
        right_surface: whether it was struck where it is written.
    """

    seconds: float
    surface: str
    velocity: int
    role: str = "stroke"
    repeat: int = -1
    written: int | None = None
    grid_seconds: float | None = None
    right_surface: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What was truly played.

    Attributes:
        played: every sound, ascending in time.
        missing: (repeat, index in `Expected.strokes`) of what was left out; a grace note goes with its main
            note.
        starts: seconds in the take of the first beat of every repeat.
        bar_starts: of every repeat, the bar starts of the player's own tempo and the end of the last bar.
        tempo: of the groove, in the meter's beats a minute.
        rush_percent: how much faster the fill is than the groove; - drags.
        wobble_ms: standard deviation of the hand.
    """

    played: tuple[Played, ...]
    missing: tuple[tuple[int, int], ...]
    starts: tuple[float, ...]
    bar_starts: tuple[tuple[float, ...], ...]
    tempo: float
    rush_percent: float
    wobble_ms: float

    def flams(self) -> tuple[tuple[float, float], ...]:
        """Every flam that was played: seconds of its grace note and of its main note."""
        by_main: dict[float, list[float]] = {}
        for one in self.played:
            if one.role == "grace" and one.grid_seconds is not None:
                by_main.setdefault(one.grid_seconds, []).append(one.seconds)
        return tuple((graces[0], main) for main, graces in by_main.items() if len(graces) == 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """How one take is played.

    Attributes:
        tempo: of the groove, in the meter's beats a minute.
        rush_percent: of the fill.
        wobble_ms: standard deviation of the hand.
        drift: largest change of tempo in the groove, as a part of it.
        missing: part of the strokes left out.
        extra: strokes added, as a part of all.
        wrong: part of the fill's strokes that land on another drum.
        flam_ms: shortest and longest flam.
    """

    tempo: float
    rush_percent: float = 0.0
    wobble_ms: float = 8.0
    drift: float = 0.0
    missing: float = 0.0
    extra: float = 0.0
    wrong: float = 0.0
    flam_ms: tuple[float, float] = (15.0, 60.0)


@dataclass(slots=True, kw_only=True)
class Player:
    """Plays a phrase again and again; every wobble comes from one seeded source."""

    expected: WrittenPhrase
    lengths: tuple[float, ...]
    manner: Manner
    chance: np.random.Generator
    played: list[Played] = field(default_factory=list)
    missing: list[tuple[int, int]] = field(default_factory=list)

    def once(self, repeat: int, start: float) -> Floats:
        """Play the phrase from `start` seconds; returns the bar starts of the player's own tempo."""
        warp = self._warp()
        moments = self._moments(warp)
        for index, one in enumerate(self.expected.strokes):
            if one.grace_of is None:
                self._stroke(index, repeat, start, moments)
        self._add_extras(repeat, start, warp)
        return start + warp(np.array(self.expected.bar_starts))

    def _warp(self) -> Warp:
        """From written seconds at the intended tempo to the player's own."""
        ends = np.arange(0.0, self.expected.bar_starts[-1] + 0.01, 0.005)
        period = self.chance.uniform(0.6, 1.5) * self.expected.bar_starts[-1]
        pace = 1 + self.manner.drift * np.sin(2 * np.pi * (ends / period + self.chance.uniform()))
        fill = [one.seconds for one in self.expected.strokes if one.in_fill and one.grace_of is None]
        if fill:
            close = next(bar for bar in self.expected.bar_starts if bar > fill[-1])
            pace[(ends >= fill[0]) & (ends < close)] /= 1 + self.manner.rush_percent / 100
        pace *= self.expected.tempo / self.manner.tempo
        at = np.concatenate([[0.0], np.cumsum(pace[:-1] * 0.005)])
        return lambda seconds: np.where(seconds < 0, seconds, np.interp(seconds, ends, at))

    def _moments(self, warp: Warp) -> dict[float, tuple[float, float]]:
        """For every written moment: where the tempo puts it, and where the hand does."""
        written_at = sorted({one.seconds for one in self.expected.strokes if one.grace_of is None})
        grid = warp(np.array(written_at))
        gaps = np.diff(grid)
        room = _CLOSEST * np.minimum(np.append(gaps, 1.0), np.insert(gaps, 0, 1.0))
        wobble = self.chance.normal(0, self.manner.wobble_ms / 1000, len(grid))
        return dict(zip(written_at, zip(grid, grid + np.clip(wobble, -room, room), strict=True), strict=True))

    def _stroke(self, index: int, repeat: int, start: float, moments: dict[float, tuple[float, float]]) -> None:
        one = self.expected.strokes[index]
        graces = [i for i, other in enumerate(self.expected.strokes) if other.grace_of == index]
        if self.chance.random() < self.manner.missing:
            self.missing += [(repeat, i) for i in (*graces, index)]
            return
        grid, at = moments[one.seconds]
        at = float(start + at + np.clip(self.chance.normal(0, _TOGETHER_MS / 1000), -0.004, 0.004))
        surface = one.surface
        if one.in_fill and surface in _NEIGHBOURS and self.chance.random() < self.manner.wrong:
            surface = _NEIGHBOURS[surface]
        about = {"repeat": repeat, "right_surface": surface == one.surface}
        loud = self._loud(one.velocity)
        self.played.append(
            Played(
                seconds=at,
                surface=surface,
                velocity=loud,
                written=index,
                grid_seconds=start + float(grid),
                **about,
            )
        )
        self._graces(index, graces, at, surface, about)
        if one.buzz:
            for after, part in generate_bounces(self.lengths[index]):
                soft = max(1, round(loud * part))
                self.played.append(
                    Played(seconds=at + after, surface=surface, velocity=soft, role="bounce", repeat=repeat)
                )

    def _graces(
        self, index: int, graces: Sequence[int], at: float, surface: str, about: dict[str, Any]
    ) -> None:
        """Grace notes at a gap of their own, never more than half the way to the stroke before."""
        if not graces:
            return
        main = self.expected.strokes[index]
        earlier = [
            one.seconds for one in self.expected.strokes if one.seconds < main.seconds and one.grace_of is None
        ]
        room = 0.5 * (main.seconds - max(earlier)) if earlier else 0.1
        gap = min(self.chance.uniform(*self.manner.flam_ms) / 1000, room)
        for number, each in enumerate(graces):
            ahead = gap * (1 - number / len(graces))
            one = self.expected.strokes[each]
            self.played.append(
                Played(
                    seconds=at - ahead,
                    surface=surface if one.surface == main.surface else one.surface,
                    velocity=self._loud(one.velocity),
                    role="grace",
                    written=each,
                    grid_seconds=at,
                    **about,
                )
            )

    def _add_extras(self, repeat: int, start: float, warp: Warp) -> None:
        """Strokes that nobody wrote, at least 45 ms from every other."""
        end = start + float(warp(np.array([self.expected.bar_starts[-2]]))[0])
        count = self.chance.binomial(len(self.expected.strokes), self.manner.extra)
        for _ in range(count):
            at = float(self.chance.uniform(start, end))
            if min(abs(one.seconds - at) for one in self.played) > 0.045:
                surface = str(self.chance.choice(["snare", "hi-hat", "kick", "high tom", "floor tom"]))
                loud = self._loud(70)
                self.played.append(
                    Played(seconds=at, surface=surface, velocity=loud, role="extra", repeat=repeat)
                )

    def _loud(self, velocity: int) -> int:
        return int(np.clip(round(self.chance.normal(velocity, 7)), 18, 127))


def lengths(phrase: Phrase, tempo: float, feel: Feel, expected: WrittenPhrase) -> tuple[float, ...]:
    """How long every written stroke lasts, in seconds; grace notes 0."""
    by_place = {(t.onset_seconds, t.hit.surface.name): t.length_seconds for t in time_phrase(phrase, tempo, feel)}
    return tuple(
        0.0 if one.grace_of is not None else by_place[one.seconds, one.surface] for one in expected.strokes
    )
