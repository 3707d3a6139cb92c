"""Rules for all sounds of the user's own."""

import tempfile
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.errors import SoundsError
from fillwright.music.surfaces import load_surfaces
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike
from fillwright.sound.samples.attack import soften_peaks, trim_end, trim_to_attack
from fillwright.sound.samples.recorded_bank import RecordedBank, RecordedStroke
from fillwright.sound.samples.sf2 import read_presets
from fillwright.sound.samples.soundfont import snap_velocity
from fillwright.sound.samples.variation import VARIATIONS, vary_stroke
from tests.soundfonts import Drum, soundfont, stroke

WHOLE = soundfont(
    [
        Drum(keys=(38, 38), samples=stroke(seconds=0.01), velocities=(1, 60)),
        Drum(keys=(38, 40), samples=stroke(seconds=0.01), velocities=(40, 127)),
        Drum(keys=(42, 42), samples=stroke(seconds=0.01), exclusive=1),
    ]
)
TABLES = WHOLE.index(b"pdta")
changes = st.lists(
    st.tuples(st.integers(TABLES, len(WHOLE) - 1) | st.integers(0, len(WHOLE) - 1), st.integers(0, 255)),
    max_size=8,
)


@given(changes, st.integers(0, len(WHOLE)) | st.just(len(WHOLE)))
@settings(deadline=None, max_examples=300)
def test_a_soundfont_is_read_or_refused_in_one_sentence(changed, kept):
    data = bytearray(WHOLE)
    for place, value in changed:
        data[place] = value
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.sf2"
        path.write_bytes(bytes(data[:kept]))
        told = ""
        try:
            presets = read_presets(path)
        except SoundsError as error:
            presets, told = (), str(error)
    assert not told or told.startswith('"a.sf2" is ')
    assert "\n" not in told
    for preset in presets:
        for key in range(128):
            layers = preset.list_layers(key)
            assert all(1 <= low <= high <= 127 for low, high in layers)
            assert list(layers) == sorted(layers)


ranges = st.lists(st.integers(1, 127), min_size=2, max_size=8, unique=True).map(
    lambda ends: tuple(zip(*[iter(sorted(ends))] * 2, strict=False))
)


@given(ranges, st.integers(1, 127))
def test_the_velocity_played_is_in_the_layer_struck_or_the_nearest(layers, velocity):
    played = snap_velocity(layers, velocity)
    away = {span: max(span[0] - velocity, velocity - span[1], 0) for span in layers}
    (inside,) = [span for span in layers if span[0] <= played <= span[1]]
    assert away[inside] == min(away.values())


recordings = st.builds(
    lambda seed, wait, length: np.concatenate(
        [
            np.zeros((wait, 2)),
            np.random.default_rng(seed).normal(0, 0.5, (length, 2)) * np.exp(-np.arange(length) / 300)[:, None],
        ]
    ).astype(np.float32),
    st.integers(0, 99),
    st.integers(0, 3000),
    st.integers(1, 4000),
)


@given(recordings, st.integers(0, VARIATIONS - 1))
@settings(deadline=None)
def test_a_finished_recording_starts_with_its_attack_and_ends_in_silence(whole, way):
    cut, latency = trim_to_attack(whole)
    assert 0 <= latency <= len(whole)
    made = trim_end(soften_peaks(vary_stroke(cut, way)))
    height = np.abs(made).max(axis=1)
    assert np.isfinite(made).all()
    assert height[-1] == 0
    assert height.max() <= 0.85
    assert np.argmax(height >= height.max() * 0.1) <= 16 + 44


class Kit:
    """A source of noise for some surfaces."""

    name, digest = "kit", ""
    choked_by: dict = {}  # noqa: RUF012

    def __init__(self, names):
        self.surfaces = tuple(names)

    def get_stroke(self, name, velocity, _index):
        if name not in self.surfaces:
            return None
        noise = np.random.default_rng(self.surfaces.index(name)).normal(0, velocity / 500, (3000, 2))
        return RecordedStroke(
            key=(name, velocity), samples=(noise * np.linspace(1, 0, 3000)[:, None]).astype(np.float32)
        )


names = st.sampled_from(sorted(load_surfaces()))
struck = st.lists(st.tuples(names, st.integers(0, 20), st.sampled_from((38, 80, 112))), max_size=8)


@given(st.sets(names, max_size=4), struck)
@settings(deadline=None, max_examples=15)
def test_the_same_strokes_are_the_same_bytes_after_any_requests(has, pairs):
    played = [
        Strike(name=name, onset_seconds=at / 10, velocity=velocity)
        for name, at, velocity in sorted(pairs, key=lambda pair: pair[1])
    ]
    fresh, used = (RecordedBank(Kit(sorted(has)), lambda _: None) for _ in range(2))
    mix(played[::2], bank=used)
    assert mix(played, bank=fresh).tobytes() == mix(played, bank=used).tobytes()
