"""A phrase with a fill of eight sixteenths, and takes of it whose truth is known."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Collection
from dataclasses import dataclass
from fractions import Fraction

import pytest

from fillwright.listen.alignment.model import AlignedStroke, Alignment, Outcome, Repetition
from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.listen.report.build import build_report
from fillwright.listen.report.model import Report
from fillwright.listen.written import WrittenPhrase, WrittenStroke
from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Fill, Phrase, build_landing, build_phrase, locate_last_beats
from fillwright.music.stroke import GRACE_VELOCITY, Kind, Level, Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import time_phrase

TEMPO = 80.0
HANDS = (Limb.RIGHT, Limb.LEFT)


def written_phrase() -> Phrase:
    """Return 3½ bars of eighths and two beats of sixteenths on the snare, flams and accents in them."""
    sixteenth = Fraction(1, 16)
    hits = tuple(
        Hit(
            at=place * sixteenth,
            length=sixteenth,
            stroke=Stroke(
                hand=HANDS[place % 2],
                kind=Kind.FLAM if place in (0, 4, 6) else Kind.SINGLE,
                level=Level.ACCENT if place in (0, 3, 4) else Level.TAP,
            ),
            surface=find_surface("snare"),
        )
        for place in range(8)
    )
    span = locate_last_beats(find_meter("4/4"), 4, Fraction(2))
    return build_phrase(
        find_groove("straight eighths"),
        Fill(span=span, hits=hits),
        land=build_landing(find_meter("4/4"), Limb.RIGHT),
    )


def written(tempo: float = TEMPO) -> WrittenPhrase:
    """Return that phrase as written strokes in seconds, built independently of `write_phrase`."""
    phrase = written_phrase()
    bar = 4 * 60 / tempo
    strokes: list[tuple[float, WrittenStroke, int]] = []
    for number, timed in enumerate(time_phrase(phrase, tempo)):
        at = bisect_right([n * bar for n in range(6)], timed.onset_seconds + 1e-9) - 1
        common = {"bar": at, "in_fill": phrase.is_in_fill(timed.hit.at), "landing": at == 4}
        hand = timed.hit.stroke.hand
        level = timed.hit.stroke.level
        main = WrittenStroke(
            seconds=timed.onset_seconds,
            surface=timed.hit.surface.name,
            level=level,
            velocity=level.velocity,
            hand=hand.value,
            **common,
        )
        strokes.append((timed.onset_seconds, main, -1 - number))
        strokes += [
            (
                seconds,
                WrittenStroke(
                    seconds=seconds,
                    surface="snare",
                    level=Level.TAP,
                    velocity=GRACE_VELOCITY,
                    hand=hand.other.value,
                    **common,
                ),
                number,
            )
            for seconds in timed.grace_seconds
        ]
    strokes.sort(key=lambda entry: entry[0])
    index = {-1 - key: position for position, (_, _, key) in enumerate(strokes) if key < 0}
    ordered = [
        stroke
        if key < 0
        else WrittenStroke(
            **{name: getattr(stroke, name) for name in stroke.__slots__} | {"grace_of": index[key]}
        )
        for _, stroke, key in strokes
    ]
    return WrittenPhrase(
        strokes=tuple(ordered),
        bar_starts=tuple(number * bar for number in range(6)),
        beats=tuple(number * bar / 4 for number in range(20)),
        tempo=tempo,
    )


@dataclass(frozen=True, kw_only=True)
class Take:
    """A take to simulate: lag in milliseconds and loudness in dB of each stroke, and the strokes left out."""

    lag_ms: Callable[[WrittenStroke], float] = lambda _stroke: 0.0
    loudness_db: Callable[[WrittenStroke], float | None] = lambda stroke: (
        8.0 if stroke.level is Level.ACCENT else 0.0
    )
    missing: Collection[int] = ()
    outcome: Outcome = Outcome.MISSING
    surface: Callable[[WrittenStroke], str] = lambda stroke: stroke.surface
    turns: int = 1
    tempo: float = TEMPO
    rush_percent: float | None = 0.0
    rush_error_percent: float | None = 0.2
    extra_seconds: tuple[float, ...] = ()


def played(expected: WrittenPhrase, take: Take) -> tuple[DetectedTake, Alignment]:
    """Return a simulated take as it is detected and aligned."""
    scale = expected.tempo / take.tempo
    onsets: list[Onset] = []
    repetitions = []
    for turn in range(take.turns):
        start = 1.0 + turn * expected.bar_starts[4] * scale
        strokes = []
        for number, stroke in enumerate(expected.strokes):
            seconds = start + stroke.seconds * scale
            if number in take.missing:
                strokes.append(AlignedStroke(written=number, outcome=take.outcome, expected_seconds=seconds))
                continue
            lag = take.lag_ms(stroke)
            onsets.append(Onset(seconds=seconds + lag / 1000, strength_db=20.0, loudness_db=-20.0))
            strokes.append(
                AlignedStroke(
                    written=number,
                    outcome=Outcome.PLAYED,
                    expected_seconds=seconds,
                    onset=len(onsets) - 1,
                    played_seconds=seconds + lag / 1000,
                    lag_ms=lag,
                    surface_played=take.surface(stroke),
                    surface_confidence=0.95,
                    loudness_db=take.loudness_db(stroke),
                )
            )
        repetitions.append(
            Repetition(
                start_seconds=start,
                strokes=tuple(strokes),
                bar_starts=tuple(start + bar_start * scale for bar_start in expected.bar_starts),
                groove_tempo=take.tempo,
                fill_rush_percent=take.rush_percent,
                fill_rush_error_percent=take.rush_error_percent,
            )
        )
    first = len(onsets)
    onsets += [Onset(seconds=at, strength_db=20.0, loudness_db=-18.0) for at in take.extra_seconds]
    detected = DetectedTake(onsets=tuple(onsets), seconds=onsets[-1].seconds + 2, noise_db=-70, loudest_db=-6)
    alignment = Alignment(
        repetitions=tuple(repetitions),
        extra=tuple(range(first, len(onsets))),
        tempo_found=take.tempo,
        share_matched=1 - len(take.missing) / len(expected.strokes),
    )
    return detected, alignment


@pytest.fixture(scope="session")
def fill_phrase() -> Phrase:
    return written_phrase()


@pytest.fixture(scope="session")
def expected() -> WrittenPhrase:
    return written()


@pytest.fixture
def perform(expected: WrittenPhrase) -> Callable[..., tuple[DetectedTake, Alignment]]:
    """`perform(lag_ms=..., missing=...)`: see `Take`."""
    return lambda **how: played(expected, Take(**how))


@pytest.fixture
def report_on(
    expected: WrittenPhrase, perform: Callable[..., tuple[DetectedTake, Alignment]]
) -> Callable[..., Report]:
    """The report of a take, played as `perform` plays it."""
    return lambda **how: build_report(expected, *perform(**how))
