"""The reader of SoundFonts: presets, zones, and refused files."""

import re

import pytest

from fillwright.errors import SoundsError
from fillwright.sound.samples.sf2 import read_presets
from tests.soundfonts import Drum, soundfont, stroke

DRUMS = (
    Drum(keys=(38, 38), samples=stroke(200), velocities=(0, 60)),
    Drum(keys=(38, 38), samples=stroke(900), velocities=(61, 100)),
    Drum(keys=(38, 38), samples=stroke(950), velocities=(50, 120)),
    Drum(keys=(42, 42), samples=stroke(4000), exclusive=1),
    Drum(keys=(43, 45), samples=stroke(100)),
)
WHOLE = soundfont(DRUMS)


@pytest.fixture
def read(tmp_path):
    """A function from bytes to presets."""

    def read(data):
        path = tmp_path / "kit.sf2"
        path.write_bytes(data)
        return read_presets(path)

    return read


def test_a_preset_has_its_numbers_and_name(read):
    (preset,) = read(soundfont(DRUMS, bank=3, program=7))
    assert (preset.bank, preset.program, preset.name) == (3, 7, "Tests")
    assert [zone.keys for zone in preset.zones] == [drum.keys for drum in DRUMS]


def test_layers_are_where_the_same_samples_sound(read):
    (preset,) = read(WHOLE)
    assert preset.list_layers(38) == ((1, 49), (50, 60), (61, 100), (101, 120))
    assert preset.list_layers(44) == ((1, 127),)
    assert preset.list_layers(36) == ()


def test_layers_leave_gaps_out(read):
    gapped = [Drum(keys=(36, 36), samples=stroke(), velocities=span) for span in ((10, 40), (80, 127))]
    (preset,) = read(soundfont(gapped))
    assert preset.list_layers(36) == ((10, 40), (80, 127))


def test_exclusive_classes(read):
    (preset,) = read(WHOLE)
    assert (
        preset.find_exclusive_class(42),
        preset.find_exclusive_class(38),
        preset.find_exclusive_class(1),
    ) == (1, 0, 0)


def test_bytes_after_the_end_are_ignored(read):
    assert read(WHOLE + b"more") == read(WHOLE)


def test_random_bytes_are_not_a_soundfont(read):
    with pytest.raises(SoundsError, match=r'^"kit.sf2" is not a SoundFont, although its name says so; use a'):
        read(bytes(range(256)) * 40)


@pytest.mark.parametrize("kept", [0, 3, 11])
def test_a_file_without_a_start_is_not_a_soundfont(read, kept):
    with pytest.raises(SoundsError, match="is not a SoundFont"):
        read(WHOLE[:kept])


@pytest.mark.parametrize("kept", [12, 100, len(WHOLE) // 2, len(WHOLE) - 2])
def test_a_file_that_is_cut_short(read, kept):
    with pytest.raises(SoundsError, match=f"damaged SoundFont: it is incomplete, with only {kept:,} bytes;"):
        read(WHOLE[:kept])


@pytest.mark.parametrize("table", ["phdr", "pbag", "pgen", "pmod", "inst", "ibag", "igen", "imod", "shdr"])
def test_a_file_without_a_table(read, table):
    with pytest.raises(SoundsError, match=f'the table "{table}" is missing'):
        read(WHOLE.replace(table.encode(), b"junk"))


@pytest.mark.parametrize("part", ["sdta", "pdta"])
def test_a_file_without_a_part(read, part):
    with pytest.raises(SoundsError, match=f'the part "{part}" is missing'):
        read(WHOLE.replace(part.encode(), b"junk"))


def changed(table, offset, value, width=2):
    """The file with a number of a table changed."""
    at = WHOLE.index(table.encode()) + 8 + offset
    return WHOLE[:at] + value.to_bytes(width, "little") + WHOLE[at + width :]


@pytest.mark.parametrize(
    ("table", "offset", "pointed"),
    [
        ("phdr", 24, "pbag"),
        ("phdr", 38 + 24, "pbag"),
        ("pbag", 4, "pgen"),
        ("pbag", 6, "pmod"),
        ("pgen", 2, "inst"),
        ("inst", 20, "ibag"),
        ("ibag", 4, "igen"),
        ("ibag", 6, "imod"),
        ("igen", 4 * 4 + 2, "shdr"),
    ],
)
def test_a_number_that_points_outside_of_its_table(read, table, offset, pointed):
    with pytest.raises(
        SoundsError, match=f'its table "{table}" has indexes outside of "{pointed}"; copy the file again'
    ):
        read(changed(table, offset, 60_000))


def test_a_table_of_half_a_row(read):
    with pytest.raises(SoundsError, match=re.escape('the table "pbag" has an invalid size of 7 bytes')):
        read(changed("pbag", -4, 7, width=4))


def test_a_chunk_that_passes_its_end(read):
    with pytest.raises(SoundsError, match=r"byte \d+: a chunk of 3,000,000,000 bytes reaches beyond the end"):
        read(changed("smpl", -4, 3_000_000_000, width=4))


@pytest.mark.parametrize(
    "change", [("shdr", 24, 2_000_000_000, 4), ("shdr", 44, 0x8001, 2), ("shdr", 24, 0, 4)]
)
def test_a_sample_that_is_not_there_does_not_sound(read, change):
    """Beyond the file's end, in the memory of an instrument, of no length."""
    table, offset, value, width = change
    (preset,) = read(changed(table, offset, value, width))
    assert preset.list_layers(38) == ((50, 60), (61, 100), (101, 120))


def test_a_first_zone_without_a_sample_applies_to_the_others(read):
    """Its generator for the sample is replaced by another one: the pan."""
    at = WHOLE.index(b"igen") + 8
    first = WHOLE[at : at + 20]
    said = (
        first[:4]
        + first[4:8]
        + (17).to_bytes(2, "little")
        + first[10:16]
        + (17).to_bytes(2, "little")
        + first[18:]
    )
    said = (
        said[:4].replace((38 | 38 << 8).to_bytes(2, "little"), (30 | 40 << 8).to_bytes(2, "little")) + said[4:]
    )
    (preset,) = read(WHOLE[:at] + said + WHOLE[at + 20 :])
    assert [zone.keys for zone in preset.zones] == [drum.keys for drum in DRUMS[1:]]


def test_more_zones_than_any_orchestra_has(read, monkeypatch):
    monkeypatch.setattr("fillwright.budget.ZONES", 1)
    with pytest.raises(SoundsError, match="has more than 1 zones, the most that is accepted"):
        read(changed("shdr", 24, 100, width=4))
