from dataclasses import replace
from fractions import Fraction
from types import MappingProxyType

import numpy as np
import pytest

from fillwright.errors import FillwrightError, TempoError
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Part, Phrase
from fillwright.music.stroke import Kind, Level
from fillwright.music.timing import Feel
from fillwright.sound.files.loudness import measure_loudness
from fillwright.sound.files.peak import CEILING_DB, measure_true_peak
from fillwright.sound.playalong.options import Click, Options
from fillwright.sound.playalong.render import TAIL_SECONDS, render, render_ladder
from fillwright.sound.playalong.sections import unroll_repeats
from fillwright.sound.signal import SAMPLE_RATE


class Recorder:
    """A bank that notes the requests and gives single samples: one value per name."""

    VALUES = MappingProxyType(
        {
            "snare": 0.5,
            "crash": 0.25,
            "kick": 0.125,
            "click": 0.0625,
            "accented click": 0.03125,
            "low click": 0.015625,
        }
    )

    def get_shot(self, name, _velocity, _index):
        return np.full((1, 2), self.VALUES[name], np.float32)


def places(audio, value):
    """Samples at which a sound of that value (and perhaps others) was placed."""
    units = np.round(audio.samples[:, 0] / 0.015625).astype(int)
    return np.flatnonzero(units & round(value / 0.015625)).tolist()


def heard(phrase, tempo, **options):
    audio = render(phrase, tempo, Options(**options), bank=Recorder())
    return audio, {name: places(audio, value) for name, value in Recorder.VALUES.items()}


def at_beats(*beats, tempo=60):
    return [round(beat * 60 / tempo * SAMPLE_RATE) for beat in beats]


def test_a_phrase_without_count_in_starts_at_once(make_phrase):
    audio, found = heard(make_phrase("snare", "snare", "snare", "snare"), 90, count_in_bars=0)
    assert audio.start_seconds == 0.0
    assert found["snare"] == at_beats(0, 1, 2, 3, tempo=90)
    assert found["click"] == found["accented click"] == []


@pytest.mark.parametrize("bars", [1, 2])
def test_the_count_in_clicks_every_beat_with_an_accent_on_1(make_phrase, bars):
    audio, found = heard(make_phrase("snare"), 100, count_in_bars=bars)
    assert audio.start_seconds == pytest.approx(bars * 2.4)
    assert found["accented click"] == at_beats(*range(0, 4 * bars, 4), tempo=100)
    assert found["click"] == at_beats(*(beat for beat in range(4 * bars) if beat % 4), tempo=100)
    assert found["snare"] == at_beats(4 * bars, tempo=100)


def test_seven_eight_is_counted_in_its_three_beats():
    empty = Phrase(meter=find_meter("7/8"), bars=())
    _, found = heard(empty, 60, count_in_bars=1)
    assert found["accented click"] == [0]
    assert found["click"] == at_beats(1, 2)


def test_bars_of_two_beats_are_counted_in_eighths():
    """Two clicks a bar don't make the tempo clear."""
    for name, between in (("6/8", (1 / 3, 2 / 3, 4 / 3, 5 / 3)), ("2/4", (1 / 2, 3 / 2))):
        audio = render(Phrase(meter=find_meter(name), bars=()), 60, Options(click_grid=True), bank=Recorder())
        assert places(audio, Recorder.VALUES["accented click"]) == [0]
        assert places(audio, Recorder.VALUES["click"]) == at_beats(1)
        assert places(audio, Recorder.VALUES["low click"]) == at_beats(*between)


def test_the_click_goes_on_up_to_the_landing(make_phrase):
    _, found = heard(make_phrase("snare", land=True), 60, count_in_bars=0, click=Click.BEATS)
    assert found["accented click"] == at_beats(0, 4)
    assert found["click"] == at_beats(1, 2, 3)


def test_repeats_land_once_at_the_end(make_phrase):
    audio, found = heard(make_phrase("snare", land=True), 120, count_in_bars=1, repeats=3)
    assert found["snare"] == at_beats(4, 8, 12, tempo=120)
    assert found["crash"] == found["kick"] == at_beats(16, tempo=120)
    assert audio.start_seconds == 2.0


def test_repeats_are_placed_from_the_start_and_not_summed(make_phrase):
    _, found = heard(make_phrase("snare"), 97, count_in_bars=0, repeats=40)
    assert found["snare"] == [round(bar * 4 * 60 / 97 * SAMPLE_RATE) for bar in range(40)]


def test_unrolled_keeps_a_phrase_without_landing(make_phrase):
    phrase = make_phrase("snare")
    assert unroll_repeats(phrase, 1) == phrase
    assert len(unroll_repeats(phrase, 3).bars) == 3
    parts = [bar.part for bar in unroll_repeats(make_phrase("snare", land=True), 2).bars]
    assert parts == [Part.FILL, Part.FILL, Part.LANDING]


def test_a_grace_note_on_the_first_stroke_has_room(make_phrase):
    audio, found = heard(make_phrase("snare", kind=Kind.FLAM), 60, count_in_bars=0)
    assert audio.start_seconds == pytest.approx(0.03)
    assert found["snare"] == [round(0.005 * SAMPLE_RATE), round(0.03 * SAMPLE_RATE)]


def test_the_widest_drag_has_room_too(make_phrase):
    phrase = make_phrase("snare", kind=Kind.DRAG)
    audio, found = heard(phrase, 60, count_in_bars=0, feel=Feel(flam_ms=80.0))
    assert len(found["snare"]) == 3
    assert audio.start_seconds == pytest.approx(0.2)


def test_a_count_in_has_room_for_grace_notes(make_phrase):
    audio, _ = heard(make_phrase("snare", kind=Kind.FLAM), 60, count_in_bars=1)
    assert audio.start_seconds == 4.0


def test_swing_is_played(make_phrase):
    eighths = make_phrase(*["snare"] * 8)
    _, found = heard(eighths, 60, count_in_bars=0, feel=Feel(swing=Fraction(2, 3)))
    assert found["snare"][:3] == at_beats(0, Fraction(2, 3), 1)


def test_a_bar_of_rests_keeps_its_time(make_phrase):
    phrase = make_phrase("snare")
    silent = replace(phrase, bars=(replace(phrase.bars[0], hits=()),))
    audio = render(silent, 60, Options(count_in_bars=0))
    assert audio.seconds == 4.0
    assert not audio.samples.any()


def test_the_audio_lasts_to_the_end_of_its_last_bar(make_phrase):
    assert render(make_phrase("snare"), 60, Options(count_in_bars=0)).seconds == 4.0


def test_the_tail_is_capped_and_fades_to_zero(make_phrase):
    audio = render(make_phrase("snare", land=True), 100, Options(count_in_bars=0))
    landing = 2.4
    assert landing + 1.5 < audio.seconds <= landing + TAIL_SECONDS + 1e-4
    assert not audio.samples[-1].any()
    assert np.abs(audio.samples[-SAMPLE_RATE // 20 :]).max() < 0.001


def test_a_modelled_count_in_click_can_be_heard(make_phrase):
    audio = render(make_phrase("snare"), 60, Options(count_in_bars=1))
    accented, plain = (np.abs(audio.samples[start : start + 2000]).max() for start in (0, SAMPLE_RATE))
    assert accented > plain > 0.05


def test_nothing_passes_the_ceiling(make_phrase):
    """Everything at once, accented: louder than any file may be."""
    phrase = make_phrase("snare", level=Level.ACCENT)
    names = ["snare", "kick", "crash", "high tom", "floor tom", "second crash"]
    hits = tuple(hit for name in names for hit in make_phrase(name, level=Level.ACCENT).bars[0].hits)
    together = replace(phrase, bars=(replace(phrase.bars[0], hits=hits),))
    audio = render(together, 60, Options(count_in_bars=0))
    assert 20 * np.log10(measure_true_peak(audio.samples)) == pytest.approx(CEILING_DB, abs=0.01)


def test_files_at_the_fixed_level_compare(make_phrase):
    """A quiet phrase is not made as loud as a loud one."""
    accent, tap, ghost = (
        measure_loudness(render(make_phrase("snare", level=level), 60, Options(count_in_bars=0)).samples)
        for level in (Level.ACCENT, Level.TAP, Level.GHOST)
    )
    assert accent > tap + 3 > ghost + 6


def test_two_renders_are_the_same_bytes(make_phrase):
    phrase = make_phrase(*["snare", "high tom", "floor tom", "crash"] * 2, kind=Kind.FLAM, land=True)
    first, second = (render(phrase, 111, Options(repeats=2)) for _ in range(2))
    assert first.samples.tobytes() == second.samples.tobytes()


def test_a_ladder_has_a_piece_for_every_tempo(make_phrase):
    ladder = render_ladder(make_phrase("snare"), (60, 80), Options(count_in_bars=1))
    assert [audio.start_seconds for audio in ladder] == [4.0, 3.0]


@pytest.mark.parametrize("bars", [-1, 3])
def test_a_count_in_that_can_not_be_is_refused(bars):
    with pytest.raises(FillwrightError, match=f"A count-in has 0 to 2 bars, not {bars}"):
        Options(count_in_bars=bars)


@pytest.mark.parametrize("repeats", [0, 65])
def test_repeats_that_can_not_be_are_refused(repeats):
    with pytest.raises(FillwrightError, match=f"can be played 1 to 64 times, not {repeats}"):
        Options(repeats=repeats)


def test_a_tempo_that_can_not_be_is_refused(make_phrase):
    with pytest.raises(TempoError, match="A tempo of 10 bpm can't be played"):
        render(make_phrase("snare"), 10)
