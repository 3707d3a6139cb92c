import numpy as np
import pytest

from fillwright.listen.alignment.tempo_map import (
    StrokeTimes,
    TempoSegments,
    build_tempo_map,
    fit_rough_map,
    fit_tempo_map,
)

SEGMENTS = TempoSegments(bounds=np.array([0.0, 2.0, 4.0, 6.0, 8.0]), fills=((4.0, 6.0),))
AT = np.concatenate([np.arange(0, 4, 0.25), np.arange(4, 6, 0.125), [6.0]])
GUESS = build_tempo_map(SEGMENTS, 1.0, [1.0] * 4, 0.02)


def played(rush=0.0, pace=1.02, deviation=0.0, seed=0):
    chance = np.random.default_rng(seed)
    filled = np.clip(AT - 4.0, 0.0, 2.0)
    rushed = pace / (1 + rush / 100) - pace
    return 1.1 + pace * AT + rushed * filled + chance.normal(0, deviation, len(AT))


def times(at):
    return StrokeTimes(written=AT, played=at, weight=np.ones(len(AT)))


def rush_of(fit):
    pace = fit.calculate_pace(4.0, 6.0)
    return 100 * (pace / (pace + fit.parameters[-1]) - 1)


@pytest.mark.parametrize("rush", [-5.0, 0.0, 4.0, 9.0])
def test_a_rush_is_exact_without_deviations(rush):
    fit = fit_tempo_map(SEGMENTS, times(played(rush)), GUESS)
    assert rush_of(fit) == pytest.approx(rush, abs=0.1)
    assert fit.map_to_take(AT) == pytest.approx(played(rush), abs=0.001)


def test_the_groove_goes_on_as_if_nothing_were_rushed():
    fit = fit_tempo_map(SEGMENTS, times(played(5.0)), GUESS)
    assert fit.map_to_groove(np.array([6.0]))[0] == pytest.approx(1.1 + 1.02 * 6, abs=0.003)


def test_one_stroke_far_off_hardly_moves_the_map():
    at = played(deviation=0.004)
    before = fit_tempo_map(SEGMENTS, times(at), GUESS).map_to_take(AT)
    at[5] += 0.08
    assert fit_tempo_map(SEGMENTS, times(at), GUESS).map_to_take(AT) == pytest.approx(before, abs=0.004)


def test_the_standard_error_of_a_rush_is_that_of_many_takes():
    fits = [fit_tempo_map(SEGMENTS, times(played(3.0, deviation=0.01, seed=n)), GUESS) for n in range(60)]
    away = np.array([rush_of(fit) - 3.0 for fit in fits])
    errors = np.array([100 * fit.rush_error for fit in fits])
    assert 0.6 < np.sqrt(np.mean((away / errors) ** 2)) < 1.4


def test_the_rough_fit_is_near():
    at = played(3.0, deviation=0.006)
    rough, full = (fit(SEGMENTS, times(at), GUESS).map_to_take(AT) for fit in (fit_rough_map, fit_tempo_map))
    assert rough == pytest.approx(full, abs=0.008)


def test_with_fewer_than_two_strokes_the_guess_is_returned():
    alone = StrokeTimes(written=AT[:1], played=AT[:1], weight=np.ones(1))
    assert fit_tempo_map(SEGMENTS, alone, GUESS) is GUESS


def test_without_a_fill_there_is_no_rush():
    fit = fit_tempo_map(SEGMENTS, times(played(0.0)), GUESS, rush_prior=0.0)
    assert fit.parameters[-1] == 0.0
