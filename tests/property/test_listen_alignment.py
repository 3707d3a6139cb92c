"""What holds of every match: a take that is the writing itself, moved, slower or faster, with strokes left out.

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


def exactly(expected: WrittenPhrase, *, scale: float = 1.0, from_midi: bool) -> DetectedTake:
    """The writing as a take that starts at 1 s; by ear, strokes at one moment are one onset."""
    onsets: dict[object, Onset] = {}
    for one in expected.strokes:
        at = 1.0 + one.seconds * scale
        level = float(40 * np.log10(one.velocity / 127))
        key = (round(at, 5), one.surface if from_midi else "")
        if key not in onsets or level > onsets[key].loudness_db:
            onsets[key] = Onset(seconds=at, strength_db=20.0 + level, loudness_db=level, surface=str(key[1]))
    length = 1.5 + expected.bar_starts[-1] * scale
    ordered = tuple(sorted(onsets.values(), key=lambda one: one.seconds))
    return DetectedTake(onsets=ordered, seconds=length, from_midi=from_midi)


def mains(expected: WrittenPhrase, found: Alignment):
    return [
        one
        for each in found.repetitions
        for one in each.strokes
        if expected.strokes[one.written].grace_of is None
    ]


def assert_exact(expected: WrittenPhrase, found: Alignment, start: float) -> None:
    assert found.refused is None
    assert len(found.repetitions) == 1
    assert found.extra == ()
    assert found.share_matched == 1.0
    assert found.repetitions[0].start_seconds == pytest.approx(start, abs=0.001)
    for one in found.repetitions[0].strokes:
        stroke = expected.strokes[one.written]
        if (
            stroke.grace_of is not None
            and expected.strokes[stroke.grace_of].seconds - stroke.seconds < LEAST_GAP_SECONDS
        ):
            continue
        assert one.outcome is Outcome.PLAYED
        assert one.lag_ms == pytest.approx(0.0, abs=1.0)


def moved(heard: DetectedTake, by: float) -> DetectedTake:
    onsets = tuple(replace(one, seconds=one.seconds + by) for one in heard.onsets)
    return replace(heard, onsets=onsets, seconds=heard.seconds + by)


@pytest.mark.parametrize("from_midi", [False, True])
@pytest.mark.parametrize("number", range(len(demo())))
def test_the_score_itself_has_no_faults(number, from_midi):
    phrase, feel = demo()[number]
    expected = write_phrase(phrase, 90, feel)
    assert_exact(expected, align_take(expected, exactly(expected, from_midi=from_midi)), 1.0)


@SLOW
@given(expected=writings(), from_midi=st.booleans())
def test_the_score_itself_has_no_faults_at_any_tempo(expected, from_midi):
    assert_exact(expected, align_take(expected, exactly(expected, from_midi=from_midi)), 1.0)


@SLOW
@given(expected=writings(), by=st.floats(0.0, 5.0))
def test_shifting_a_take_shifts_its_start_alone(expected, by):
    heard = exactly(expected, from_midi=False)
    before, after = align_take(expected, heard), align_take(expected, moved(heard, by))
    assert after.repetitions[0].start_seconds - before.repetitions[0].start_seconds == pytest.approx(
        by, abs=0.001
    )
    for one, other in zip(before.repetitions[0].strokes, after.repetitions[0].strokes, strict=True):
        assert (one.outcome, one.onset) == (other.outcome, other.onset)
        if one.lag_ms is not None:
            assert other.lag_ms == pytest.approx(one.lag_ms, abs=1.0)


@SLOW
@given(expected=writings(), seed=st.integers(0, 999), from_midi=st.booleans())
def test_an_onset_is_matched_once(expected, seed, from_midi):
    chance = np.random.default_rng(seed)
    heard = exactly(expected, from_midi=from_midi)
    onsets = [
        replace(one, seconds=one.seconds + float(chance.normal(0, 0.008)))
        for one in heard.onsets
        if chance.random() > 0.08
    ]
    heard = replace(heard, onsets=tuple(sorted(onsets, key=lambda one: one.seconds)))
    found = align_take(expected, heard)
    where: dict[int, set[float]] = {}
    for one in chain.from_iterable(each.strokes for each in found.repetitions):
        if one.onset is not None:
            where.setdefault(one.onset, set()).add(round(expected.strokes[one.written].seconds, 2))
    assert all(len(places) == 1 for places in where.values())
    assert not set(where) & set(found.extra)


@SLOW
@given(expected=writings(), scale=st.floats(0.87, 1.15), from_midi=st.booleans())
def test_another_tempo_within_fifteen_per_cent_still_matches(expected, scale, from_midi):
    found = align_take(expected, exactly(expected, scale=scale, from_midi=from_midi))
    assert found.refused is None
    assert found.tempo_found == pytest.approx(expected.tempo / scale, rel=0.002)
    assert all(one.outcome is Outcome.PLAYED for one in mains(expected, found))
