"""Rules that hold for every phrase and every piece of audio."""

import io
import wave
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.phrase import Bar, Part, Phrase
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import find_surface, load_surfaces
from fillwright.music.timing import time_phrase
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.encode import encode_audio
from fillwright.sound.files.ogg import compute_checksum
from fillwright.sound.files.peak import CEILING_DB, limit_peak, measure_true_peak
from fillwright.sound.playalong.looseness import MOST_SECONDS
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.options import AudiblePart, Click, Looseness, Options, Shape
from fillwright.sound.playalong.render import render, render_loop, render_sections
from fillwright.sound.playalong.sections import plan_sections, unroll_repeats
from fillwright.sound.playalong.strikes import Strike, generate_bounces

HAND_SURFACES = sorted(name for name, found in load_surfaces().items() if found.foot is None)

strokes = st.builds(
    Stroke,
    hand=st.sampled_from([Limb.RIGHT, Limb.LEFT]),
    kind=st.sampled_from([Kind.SINGLE, Kind.FLAM, Kind.DRAG]),
    level=st.sampled_from(Level),
)


@st.composite
def phrases(draw):
    """One or two bars of equal strokes with rests between them."""
    bars = []
    for _ in range(draw(st.integers(1, 2))):
        parts = draw(st.sampled_from([4, 6, 8, 12, 16]))
        length = Fraction(1, parts)
        played = draw(st.lists(st.none() | strokes, min_size=parts, max_size=parts))
        names = draw(st.lists(st.sampled_from(HAND_SURFACES), min_size=parts, max_size=parts))
        hits = tuple(
            Hit(at=index * length, length=length, stroke=stroke, surface=find_surface(names[index]))
            for index, stroke in enumerate(played)
            if stroke
        )
        bars.append(Bar(part=Part.FILL, hits=hits))
    return Phrase(meter=find_groove("straight eighths").meter, bars=tuple(bars))


class Ones:
    """A bank of single samples of one size."""

    def get_shot(self, _name, _velocity, _index):
        return np.full((1, 2), 2.0**-6, np.float32)


@settings(deadline=None)
@given(phrases(), st.integers(20, 400), st.integers(0, 2), st.integers(1, 3))
def test_every_note_is_at_the_nearest_sample(phrase, tempo, count_in, repeats):
    """Rule: an attack is at round((start + onset) * 44100), grace notes too, and nothing else sounds."""
    options = Options(count_in_bars=count_in, repeats=repeats)
    audio = render(phrase, tempo, options, bank=Ones())
    beat = 60 / tempo
    expected = {round(number * beat * 44100): 1 for number in range(count_in * 4)}
    for one in time_phrase(unroll_repeats(phrase, repeats), tempo):
        for onset in (*one.grace_seconds, one.onset_seconds):
            place = round((audio.start_seconds + onset) * 44100)
            assert place >= 0
            expected[place] = expected.get(place, 0) + 1
    found = np.round(audio.samples[:, 0] * 64).astype(int)
    assert {int(place): int(found[place]) for place in np.flatnonzero(found)} == expected


wishes = st.builds(
    Options,
    count_in_bars=st.integers(0, 2),
    click=st.sampled_from([Click.OFF, Click.BEATS, Click.EIGHTHS, Click.BACKBEATS]),
    click_grid=st.booleans(),
    repeats=st.integers(1, 3),
    audible=st.sampled_from(AudiblePart),
    looseness=st.sampled_from(Looseness),
    seed=st.integers(0, 2**32 - 1),
)


@settings(deadline=None)
@given(phrases(), st.lists(st.integers(40, 300), min_size=1, max_size=3), wishes, st.sampled_from(Shape))
def test_everything_planned_sounds_at_its_sample(phrase, tempos, options, shape):
    """Rule: with any options, each strike is at the nearest sample, in a loop wrapped round its end."""
    looped = shape is Shape.LOOP
    if looped:
        tempos, options = tempos[:1], replace(options, count_in_bars=0)
    sections = plan_sections(phrase, tempos, options, shape)
    audio = render_loop(sections[0], bank=Ones()) if looped else render_sections(sections, bank=Ones())
    expected = np.zeros(len(audio.samples))
    for section in sections:
        for strike in section.list_strikes():
            place = round(strike.onset_seconds * 44100)
            assert looped or place >= 0
            expected[place % len(expected)] += strike.gain * 2.0**-6
    assert np.abs(audio.samples[:, 0] - expected).max() < 1e-5


@settings(deadline=None)
@given(phrases(), st.integers(40, 300), wishes)
def test_a_loose_player_stays_near_the_written_times(phrase, tempo, options):
    """Rule: looseness moves strokes by twelve milliseconds at most, and none past another."""
    exact, loose = (
        plan_sections(phrase, (tempo,), replace(options, looseness=looseness))[0].timed
        for looseness in Looseness
    )
    for one, was in zip(loose, exact, strict=True):
        assert one.hit == was.hit
        assert abs(one.onset_seconds - was.onset_seconds) <= MOST_SECONDS + 1e-9
    apart = [
        (one.onset_seconds, other.onset_seconds) for one, other in pairwise(loose) if one.hit.at < other.hit.at
    ]
    assert all(one < other for one, other in apart)


@settings(deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["snare", "kick", "rim"]), st.integers(0, 2000)), max_size=6))
def test_a_mix_is_the_sum_of_its_sounds(played):
    """Rule: mixing is linear, to the last bit, since one-shots are on a grid that sums keep."""
    made = [
        Strike(name=name, onset_seconds=ms / 1000, velocity=80)
        for name, ms in sorted(played, key=lambda p: p[1])
    ]
    whole = mix(made, samples=3 * 44100)
    counts: dict[str, int] = {}
    total = np.zeros_like(whole)
    for strike in made:
        before = [Strike(name=strike.name, onset_seconds=0.0, velocity=80)] * counts.get(strike.name, 0)
        counts[strike.name] = len(before) + 1
        total += mix([*before, strike], samples=3 * 44100) - mix(before, samples=3 * 44100)
    assert np.array_equal(whole, total)


audio_samples = st.integers(0, 2**32 - 1).map(
    lambda seed: np.random.default_rng(seed).normal(0, 0.4, (300, 2)).astype(np.float32)
)


@given(audio_samples)
def test_a_true_peak_is_never_below_the_samples(samples):
    assert measure_true_peak(samples) >= np.abs(samples).max()


@given(audio_samples)
def test_limited_samples_stay_below_the_ceiling(samples):
    assert 20 * np.log10(measure_true_peak(limit_peak(samples))) <= CEILING_DB + 0.001


@given(st.integers(1, 3000), st.integers(0, 2**32 - 1))
def test_sixteen_bit_samples_survive_a_wav_file(length, seed):
    """Rule: write then read is identity for what 16 bits can hold."""
    whole = np.random.default_rng(seed).integers(-32767, 32768, (length, 2))
    data = encode_audio(Audio(samples=(whole / 32768).astype(np.float32)), ".wav")
    with wave.open(io.BytesIO(data)) as file:
        read = np.frombuffer(file.readframes(length), "<i2").reshape(-1, 2)
    assert np.abs(read - whole).max() <= 1


@given(st.binary(max_size=200), st.binary(min_size=1, max_size=50))
def test_a_checksum_sees_a_change(data, change):
    """Rule: a burst of at most 32 bits is always detected by a 32-bit CRC."""
    other = bytearray(data + change)
    other[-1] ^= 1
    assert compute_checksum(bytes(other)) != compute_checksum(data + change)


@given(st.floats(0.0, 5.0))
def test_bounces_lie_inside_their_stroke(length):
    """Rule: a buzz ends with its stroke, its bounces apart and each softer than the first contact."""
    made = list(generate_bounces(length))
    assert all(0 < at < length and 0 < part < 1 for at, part in made)
    gaps = np.diff([0.0, *(at for at, _ in made)])
    assert np.all(gaps > 0.013)
