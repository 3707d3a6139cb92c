"""Every alignment of a take that is the written phrase itself, moved, slower or faster, with strokes left out.

"A take that is the score itself gives zero lags, nothing missing, nothing extra, for every fill of the demo
and any tempo from 40 to 220; shifting a take shifts nothing but its start; an onset is matched at most once,
strokes of one moment sharing one excepted; a tempo within 15 per cent of the one asked for still matches."
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import chain

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.listen.alignment.align import align_take
from fillwright.listen.alignment.model import Alignment, Outcome
from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.listen.written import WrittenPhrase, write_phrase
from fillwright.music.phrase import Phrase
from fillwright.music.timing import Feel

SLOW = settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.too_slow])
LEAST_GAP_SECONDS = 0.012


@cache
def demo() -> tuple[tuple[Phrase, Feel], ...]:
    lesson = parse_lesson(read_demo_text())
    return tuple((fill.phrase, lesson.feel) for fill in build_fills(lesson).fills)


@st.composite
def writings(draw: st.DrawFn) -> WrittenPhrase:
    phrase, feel = draw(st.sampled_from(demo()))
    return write_phrase(phrase, draw(st.integers(40, 220)), feel)


def detect_written(expected: WrittenPhrase, *, scale: float = 1.0, from_midi: bool) -> DetectedTake:
    """Return the written phrase as a take that starts at 1 s; in audio, strokes at one moment are one onset."""
    onsets: dict[object, Onset] = {}
    for stroke in expected.strokes:
        at = 1.0 + stroke.seconds * scale
        level = float(40 * np.log10(stroke.velocity / 127))
        key = (round(at, 5), stroke.surface if from_midi else "")
        if key not in onsets or level > onsets[key].loudness_db:
            onsets[key] = Onset(seconds=at, strength_db=20.0 + level, loudness_db=level, surface=str(key[1]))
    length = 1.5 + expected.bar_starts[-1] * scale
    ordered = tuple(sorted(onsets.values(), key=lambda onset: onset.seconds))
    return DetectedTake(onsets=ordered, seconds=length, from_midi=from_midi)


def mains(expected: WrittenPhrase, alignment: Alignment):
    return [
        stroke
        for repetition in alignment.repetitions
        for stroke in repetition.strokes
        if expected.strokes[stroke.written].grace_of is None
    ]


def assert_exact(expected: WrittenPhrase, alignment: Alignment, start: float) -> None:
    assert alignment.refused is None
    assert len(alignment.repetitions) == 1
    assert alignment.extra == ()
    assert alignment.share_matched == 1.0
    assert alignment.repetitions[0].start_seconds == pytest.approx(start, abs=0.001)
    for aligned in alignment.repetitions[0].strokes:
        stroke = expected.strokes[aligned.written]
        if (
            stroke.grace_of is not None
            and expected.strokes[stroke.grace_of].seconds - stroke.seconds < LEAST_GAP_SECONDS
        ):
            continue
        assert aligned.outcome is Outcome.PLAYED
        assert aligned.lag_ms == pytest.approx(0.0, abs=1.0)


def moved(detected: DetectedTake, by: float) -> DetectedTake:
    onsets = tuple(replace(onset, seconds=onset.seconds + by) for onset in detected.onsets)
    return replace(detected, onsets=onsets, seconds=detected.seconds + by)


@pytest.mark.parametrize("from_midi", [False, True])
@pytest.mark.parametrize("number", range(len(demo())))
def test_the_score_itself_has_no_faults(number, from_midi):
    phrase, feel = demo()[number]
    expected = write_phrase(phrase, 90, feel)
    assert_exact(expected, align_take(expected, detect_written(expected, from_midi=from_midi)), 1.0)


@SLOW
@given(expected=writings(), from_midi=st.booleans())
def test_the_score_itself_has_no_faults_at_any_tempo(expected, from_midi):
    assert_exact(expected, align_take(expected, detect_written(expected, from_midi=from_midi)), 1.0)


@SLOW
@given(expected=writings(), by=st.floats(0.0, 5.0))
def test_shifting_a_take_shifts_its_start_alone(expected, by):
    detected = detect_written(expected, from_midi=False)
    before, after = align_take(expected, detected), align_take(expected, moved(detected, by))
    assert after.repetitions[0].start_seconds - before.repetitions[0].start_seconds == pytest.approx(
        by, abs=0.001
    )
    for stroke, other in zip(before.repetitions[0].strokes, after.repetitions[0].strokes, strict=True):
        assert (stroke.outcome, stroke.onset) == (other.outcome, other.onset)
        if stroke.lag_ms is not None:
            assert other.lag_ms == pytest.approx(stroke.lag_ms, abs=1.0)


@SLOW
@given(expected=writings(), seed=st.integers(0, 999), from_midi=st.booleans())
def test_an_onset_is_matched_once(expected, seed, from_midi):
    chance = np.random.default_rng(seed)
    detected = detect_written(expected, from_midi=from_midi)
    onsets = [
        replace(onset, seconds=onset.seconds + float(chance.normal(0, 0.008)))
        for onset in detected.onsets
        if chance.random() > 0.08
    ]
    detected = replace(detected, onsets=tuple(sorted(onsets, key=lambda onset: onset.seconds)))
    alignment = align_take(expected, detected)
    where: dict[int, set[float]] = {}
    for stroke in chain.from_iterable(repetition.strokes for repetition in alignment.repetitions):
        if stroke.onset is not None:
            where.setdefault(stroke.onset, set()).add(round(expected.strokes[stroke.written].seconds, 2))
    assert all(len(places) == 1 for places in where.values())
    assert not set(where) & set(alignment.extra)


@SLOW
@given(expected=writings(), scale=st.floats(0.87, 1.15), from_midi=st.booleans())
def test_another_tempo_within_fifteen_per_cent_still_matches(expected, scale, from_midi):
    alignment = align_take(expected, detect_written(expected, scale=scale, from_midi=from_midi))
    assert alignment.refused is None
    assert alignment.tempo_found == pytest.approx(expected.tempo / scale, rel=0.002)
    assert all(stroke.outcome is Outcome.PLAYED for stroke in mains(expected, alignment))
