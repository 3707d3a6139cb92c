"""A loose player: a little off, never out of order, always the same."""

from itertools import pairwise

import numpy as np
import pytest

from fillwright.lesson.single_fill import FillChoice, make_single_fill
from fillwright.music.stroke import Kind
from fillwright.music.timing import time_phrase
from fillwright.sound.playalong.looseness import MOST_DB, MOST_SECONDS, loosen


@pytest.fixture(scope="module")
def played():
    one = make_single_fill(FillChoice(figure="flam accent", step="round the kit", bars=16))
    return time_phrase(one.phrase, 90)


def test_the_same_seed_plays_the_same(played):
    assert loosen(played, 3) == loosen(played, 3)
    assert loosen(played, 3) != loosen(played, 4)
    assert loosen(played, 3, 0) != loosen(played, 3, 1)


def test_deviations_are_a_good_players(played):
    moved, gains = loosen(played, 0)
    off = np.array([one.onset_seconds - was.onset_seconds for one, was in zip(moved, played, strict=True)])
    assert 0.003 < off.std() < 0.006
    assert abs(off.mean()) < 0.002
    assert np.abs(off).max() <= MOST_SECONDS + 1e-9
    db = 20 * np.log10(gains)
    assert 0.6 < db.std() < 1.4
    assert np.abs(db).max() <= MOST_DB + 1e-9


def test_limbs_that_play_together_drift_together_but_not_as_one(played):
    moved, _ = loosen(played, 1)
    off = [one.onset_seconds - was.onset_seconds for one, was in zip(moved, played, strict=True)]
    pairs = [(off[i], off[i + 1]) for i in range(len(off) - 1) if played[i].hit.at == played[i + 1].hit.at]
    one, other = np.array(pairs).T
    assert len(pairs) > 50
    assert 0.1 < np.corrcoef(one, other)[0, 1] < 0.8


def test_looseness_moves_grace_notes_with_their_stroke(played):
    moved, _ = loosen(played, 2)
    for one, was in zip(moved, played, strict=True):
        assert (one.hit, one.length_seconds) == (was.hit, was.length_seconds)
        shift = one.onset_seconds - was.onset_seconds
        assert one.grace_seconds == pytest.approx([grace + shift for grace in was.grace_seconds])


def test_fast_strokes_keep_their_order(make_phrase):
    fast = time_phrase(make_phrase(*["snare"] * 32, kind=Kind.SINGLE), 240)
    for seed in range(20):
        moved, _ = loosen(fast, seed)
        assert all(one.onset_seconds < other.onset_seconds for one, other in pairwise(moved))


def test_nothing_is_loosened_to_nothing():
    assert loosen((), 0) == ((), ())
