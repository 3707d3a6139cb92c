from dataclasses import replace

import pytest

from fillwright.listen.written import write_phrase
from fillwright.listen.written_midi import infer_phrase
from fillwright.music.stroke import Level
from tests.unit.listen.conftest import written_phrase

EXPECTED = write_phrase(written_phrase(), 80.0)


def infer(written=EXPECTED):
    notes = [(stroke.seconds, stroke.surface, stroke.velocity) for stroke in written.strokes]
    return infer_phrase(notes, bar_starts=written.bar_starts, beats=written.beats, tempo=written.tempo)


@pytest.mark.parametrize("name", ["grace_of", "in_fill", "landing", "level", "bar"])
def test_a_phrase_is_inferred_from_its_plain_notes(name):
    phrase = infer()
    assert [getattr(stroke, name) for stroke in phrase.strokes] == [
        getattr(stroke, name) for stroke in EXPECTED.strokes
    ]


def test_hands_are_not_inferred():
    assert {one.hand for one in infer().strokes} == {""}


def test_times_count_from_the_first_bar():
    notes = [(one.seconds + 3.0, one.surface, one.velocity) for one in EXPECTED.strokes]
    phrase = infer_phrase(
        notes,
        bar_starts=[one + 3.0 for one in EXPECTED.bar_starts],
        beats=[one + 3.0 for one in EXPECTED.beats],
        tempo=80.0,
    )
    assert phrase.bar_starts == pytest.approx(EXPECTED.bar_starts)
    assert [one.seconds for one in phrase.strokes] == pytest.approx([one.seconds for one in EXPECTED.strokes])


def test_bars_that_are_all_alike_have_no_fill():
    groove = replace(EXPECTED, strokes=tuple(one for one in EXPECTED.strokes if one.bar < 3))
    groove = replace(groove, bar_starts=EXPECTED.bar_starts[:4], beats=EXPECTED.beats[:12])
    assert not any(one.in_fill or one.landing for one in infer(groove).strokes)


def test_strokes_of_one_loudness_are_taps():
    notes = [(0.5 * n, "snare", 100) for n in range(8)]
    phrase = infer_phrase(notes, bar_starts=(0.0, 2.0, 4.0), beats=tuple(0.5 * n for n in range(8)), tempo=120)
    assert {one.level for one in phrase.strokes} == {Level.TAP}


def test_a_soft_stroke_on_the_grid_is_not_a_grace_note():
    notes = [(0.0, "snare", 40), (0.0625, "snare", 110)]  # thirty-seconds at 120
    phrase = infer_phrase(notes, bar_starts=(0.0, 2.0), beats=(0.0, 0.5, 1.0, 1.5), tempo=120)
    assert [one.grace_of for one in phrase.strokes] == [None, None]


def test_a_kick_is_not_a_grace_note():
    notes = [(0.475, "kick", 40), (0.5, "snare", 110)]
    phrase = infer_phrase(notes, bar_starts=(0.0, 2.0), beats=(0.0, 0.5, 1.0, 1.5), tempo=120)
    assert [one.grace_of for one in phrase.strokes] == [None, None]


def test_a_rising_ruff_belongs_to_its_last_note():
    hats = [(0.25 * number, "hi-hat", 80) for number in range(8)]
    ruff = [
        (1.0 - 0.075, "snare", 30),
        (1.0 - 0.05, "snare", 60),
        (1.0 - 0.025, "snare", 80),
        (1.0, "snare", 110),
    ]
    phrase = infer_phrase([*hats, *ruff], bar_starts=(0.0, 2.0), beats=(0.0, 0.5, 1.0, 1.5), tempo=120)
    snares = [stroke for stroke in phrase.strokes if stroke.surface == "snare"]
    assert [phrase.strokes[stroke.grace_of].velocity for stroke in snares[:3]] == [110] * 3
    assert snares[3].grace_of is None


def test_a_rising_roll_is_not_one_ruff():
    roll = [(0.03 * number, "snare", round(5 * 1.3**number)) for number in range(13)]
    phrase = infer_phrase(roll, bar_starts=(0.0, 2.0), beats=(0.0, 0.5, 1.0, 1.5), tempo=120)
    for stroke in phrase.strokes:
        if stroke.grace_of is not None:
            assert phrase.strokes[stroke.grace_of].grace_of is None
            assert phrase.strokes[stroke.grace_of].seconds - stroke.seconds <= 0.14
