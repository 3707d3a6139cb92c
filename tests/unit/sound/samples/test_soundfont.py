"""SoundFonts as a source of strokes: little ones that the tests write, played by FluidSynth."""

from pathlib import Path

import numpy as np
import pytest

from fillwright.errors import SoundsError
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike
from fillwright.sound.samples.midi_notes import SoundFontNotes, get_general_midi
from fillwright.sound.samples.recorded_bank import RecordedBank
from fillwright.sound.samples.soundfont import SoundFontSource, snap_velocity
from tests.needs import need, need_fluidsynth
from tests.soundfonts import Drum, soundfont, stroke

HZ = {"kick": 60, "snare": 250, "rim": 800, "hi-hat": 5000, "open hi-hat": 6000, "foot hi-hat": 7000}
TIMGM = Path("/usr/share/sounds/sf2/TimGM6mb.sf2")
HATS = ("hi-hat", "open hi-hat", "foot hi-hat")


def drum(name, *, hz=0.0, wait=0, velocities=(1, 127), exclusive=None):
    note = get_general_midi().notes[name]
    group = (name in HATS) if exclusive is None else exclusive
    return Drum(
        keys=(note, note),
        samples=stroke(hz or HZ[name], wait=wait),
        velocities=velocities,
        exclusive=int(group),
    )


@pytest.fixture
def opened(tmp_path):
    """A function from drums to their source."""
    need_fluidsynth()

    def opened(drums, *, notes=None, suffix=".sf2", **how):
        path = tmp_path / f"kit{suffix}"
        path.write_bytes(soundfont(drums, compressed=suffix == ".sf3", **how))
        return SoundFontSource(path, notes or get_general_midi())

    return opened


def pitch(samples):
    """The strongest frequency."""
    part = samples[:8192, 0] * np.hanning(len(samples[:8192]))
    return np.argmax(np.abs(np.fft.rfft(part, 65536))) * 44_100 / 65536


KIT = [drum(name) for name in HZ]


@pytest.mark.parametrize("suffix", [".sf2", ".sf3"])
def test_every_surface_has_the_sound_of_its_key(opened, suffix):
    source = opened(KIT, suffix=suffix)
    assert set(source.surfaces) == set(HZ)
    for name, hz in HZ.items():
        assert pitch(source.get_stroke(name, 80, 0).samples) == pytest.approx(hz, rel=0.02)


def test_a_missing_surface_has_no_stroke(opened):
    assert opened(KIT).get_stroke("china", 80, 0) is None
    assert opened(KIT).get_stroke("click", 80, 0) is None


def test_velocity_layers_are_the_soundfonts_own(opened):
    layers = [
        drum("snare", hz=hz, velocities=span)
        for hz, span in ((200, (1, 61)), (400, (62, 90)), (900, (91, 127)))
    ]
    source = opened([drum("kick"), *layers])
    heard = {
        velocity: pitch(source.get_stroke("snare", velocity, 0).samples)
        for velocity in (38, 61, 62, 80, 90, 91, 112)
    }
    expected = {38: 200, 61: 200, 62: 400, 80: 400, 90: 400, 91: 900, 112: 900}
    assert heard == pytest.approx(expected, rel=0.02)


def test_harder_strokes_are_louder(opened):
    source = opened(KIT)
    heights = [
        np.abs(source.get_stroke("snare", velocity, 0).samples).max() for velocity in (20, 38, 80, 112, 127)
    ]
    assert heights == sorted(heights)
    assert heights[3] / heights[2] == pytest.approx((112 / 80) ** 2, rel=0.05)


@pytest.mark.parametrize("wait", [0, 30, 97, 500, 2000])
def test_the_silence_before_an_attack_is_measured_and_removed(opened, wait):
    take = opened([drum("snare", wait=wait)]).get_stroke("snare", 100, 0)
    assert take.latency == pytest.approx(max(0, wait - 16), abs=2)
    height = np.abs(take.samples).max(axis=1)
    assert np.argmax(height > 0.1 * height.max()) <= 18


def test_a_sound_is_played_once_for_all_velocities_that_share_it(opened):
    source = opened(KIT)
    assert source.get_stroke("snare", 80, 0) is source.get_stroke("snare", 82, 5)
    assert source.get_stroke("snare", 80, 0) is not source.get_stroke("snare", 112, 0)


def test_notes_do_not_ring_into_one_another(opened):
    source, again = opened(KIT), opened(KIT)
    again.get_stroke("open hi-hat", 127, 0)
    again.get_stroke("kick", 127, 0)
    assert (
        source.get_stroke("snare", 80, 0).samples.tobytes()
        == again.get_stroke("snare", 80, 0).samples.tobytes()
    )


def test_a_sound_that_never_ends_is_cut(opened):
    long = Drum(keys=(38, 38), samples=np.cos(np.arange(44_100 * 8) * 0.05) * 0.5)
    assert len(opened([long]).get_stroke("snare", 100, 0).samples) <= 5.3 * 44_100


def steepest_rise(samples):
    """Return how many times louder 1.5 ms are than all of the 12 ms before them, after the attack.

    What lies 60 dB under the stroke is not looked at.
    """
    height = np.abs(samples).max(axis=1)
    height = height[: len(height) // 64 * 64].reshape(-1, 64).max(axis=1)
    least = height.max() / 1000
    return max((height[n] / max(height[n - 8 : n].max(), least) for n in range(16, len(height))), default=0.0)


def largest_step_at_the_end(samples):
    """Return the largest jump in the last audible samples, as a part of the stroke's peak."""
    heard = np.flatnonzero(np.abs(samples).max(axis=1))[-1]
    return np.abs(np.diff(samples[max(0, heard - 40) :], axis=0, append=0)).max() / np.abs(samples).max()


def test_nothing_of_a_real_soundfont_sounds_again_after_its_stroke():
    need_fluidsynth()
    need(TIMGM.exists(), f"{TIMGM}, Debian's timgm6mb-soundfont")
    bank = RecordedBank(source := SoundFontSource(TIMGM, get_general_midi()), pytest.fail)
    for name in source.surfaces:
        for velocity in (38, 80, 112):
            shot = bank.get_shot(name, velocity, 1)
            assert steepest_rise(shot) < 2.2, name
            assert largest_step_at_the_end(shot) < 0.01, name


@pytest.mark.parametrize("zeros", [4, 46])
@pytest.mark.parametrize("level", [0.0, 0.3])
def test_a_sample_that_ends_off_zero_ends_without_a_click(opened, level, zeros):
    """The next sample in the file, which starts at once, must not sound after it."""
    body = np.concatenate([stroke(200, seconds=0.1), np.zeros(2000)]) + level
    drums = [Drum(keys=(note, note), samples=body) for note in (36, 38, 42)]
    bank = RecordedBank(opened(drums, zeros=zeros), pytest.fail)
    for name in ("kick", "snare", "hi-hat"):
        for index in range(3):
            shot = bank.get_shot(name, 112, index)
            assert steepest_rise(shot) < 2.2, (name, index)
            assert largest_step_at_the_end(shot) < 0.01, (name, index)


def test_exclusive_classes_choke_one_another(opened):
    source = opened(KIT)
    assert source.choked_by == {name: frozenset(HATS) - {name} for name in HATS}
    bank = RecordedBank(source, print)
    open_one = Strike(name="open hi-hat", onset_seconds=0.0, velocity=112)
    shut = Strike(name="foot hi-hat", onset_seconds=0.1, velocity=80)
    both, alone = mix([open_one, shut], bank=bank), mix([shut], bank=bank)
    assert np.abs(both[5000 : len(alone)] - alone[5000:]).max() < 1e-6
    assert np.abs(both[:4000]).max() > 0.01


def test_a_soundfont_without_classes_chokes_nothing_of_its_own(opened):
    assert opened([drum("snare"), drum("kick")]).choked_by == {}


def test_bank_128_goes_before_others_and_bank_0_must_look_like_a_kit(opened):
    assert opened(KIT, bank=0).get_stroke("snare", 80, 0) is not None
    piano = [Drum(keys=(0, 127), samples=stroke(440))]
    assert opened(piano, bank=128).surfaces
    with pytest.raises(
        SoundsError, match=r'^"kit.sf2" has no drums: there is no bank 128, and its first preset'
    ):
        opened(piano, bank=0)


def test_a_percussion_bank_without_a_kit(opened):
    with pytest.raises(
        SoundsError,
        match=r'has no drums: bank 128, program 0 \("Tests"\) has no sound on any MIDI note',
    ):
        opened([Drum(keys=(90, 91), samples=stroke())])


def test_a_table_says_where_the_drums_are(opened):
    notes = SoundFontNotes(bank=5, program=9, notes={"snare": 61})
    source = opened([Drum(keys=(61, 61), samples=stroke(300))], bank=5, program=9, notes=notes)
    assert source.surfaces == ("snare",)
    assert pitch(source.get_stroke("snare", 80, 0).samples) == pytest.approx(300, rel=0.02)


@pytest.mark.parametrize("asked", [{"bank": 1}, {"program": 4}, {"bank": 128, "program": 1}])
def test_a_missing_bank_or_program_is_refused(opened, asked):
    with pytest.raises(
        SoundsError, match=r'does not have this bank and program; it has bank 128, program 0 \("Tests"\)\.$'
    ):
        opened(KIT, notes=SoundFontNotes(**asked, notes=get_general_midi().notes))


def test_the_digest_changes_with_the_file_and_with_the_keys(opened):
    same = opened(KIT).digest
    assert same == opened(KIT).digest
    others = {
        opened(KIT[:-1]).digest,
        opened(KIT, notes=SoundFontNotes(bank=128, notes=get_general_midi().notes)).digest,
    }
    assert len(others | {same}) == 3


def test_velocities_between_two_layers_go_to_the_nearer():
    layers = ((10, 40), (80, 127))
    assert [snap_velocity(layers, velocity) for velocity in (1, 38, 59, 61, 127)] == [10, 40, 40, 80, 127]


def test_close_velocities_share_a_step_of_the_grid():
    assert {snap_velocity(((1, 127),), velocity) for velocity in (77, 80, 83)} == {80}
