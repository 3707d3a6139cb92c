"""Percussion keys and staff positions against what is published.

Source: MIDI Manufacturers Association, General MIDI Level 1 percussion key map (from memory)
Source: pretty_midi
Source: music21
Source: Weinberg, Guide to Standardized Drumset Notation (PAS 1998; from memory)
"""

from __future__ import annotations

import pretty_midi
import pytest
from music21.midi.percussion import PercussionMapper

from fillwright.music.surfaces import find_surface, load_surfaces

LEVEL_1 = {
    35: "Acoustic Bass Drum",
    36: "Bass Drum 1",
    37: "Side Stick",
    38: "Acoustic Snare",
    39: "Hand Clap",
    40: "Electric Snare",
    41: "Low Floor Tom",
    42: "Closed Hi-Hat",
    43: "High Floor Tom",
    44: "Pedal Hi-Hat",
    45: "Low Tom",
    46: "Open Hi-Hat",
    47: "Low-Mid Tom",
    48: "Hi-Mid Tom",
    49: "Crash Cymbal 1",
    50: "High Tom",
    51: "Ride Cymbal 1",
    52: "Chinese Cymbal",
    53: "Ride Bell",
    54: "Tambourine",
    55: "Splash Cymbal",
    56: "Cowbell",
    57: "Crash Cymbal 2",
    58: "Vibraslap",
    59: "Ride Cymbal 2",
}
"""Drum-set part of the key map; hand percussion follows above."""

IN_THE_MAP = {
    "kick": "Bass Drum 1",
    "rim": "Side Stick",
    "snare": "Acoustic Snare",
    "second floor tom": "Low Floor Tom",
    "floor tom": "High Floor Tom",
    "mid tom": "Low-Mid Tom",
    "high tom": "High Tom",
    "foot hi-hat": "Pedal Hi-Hat",
    "hi-hat": "Closed Hi-Hat",
    "open hi-hat": "Open Hi-Hat",
    "ride bow": "Ride Cymbal 1",
    "ride bell": "Ride Bell",
    "crash": "Crash Cymbal 1",
    "second crash": "Crash Cymbal 2",
    "splash": "Splash Cymbal",
    "china": "Chinese Cymbal",
}
"""What the map calls each of our surfaces."""

IN_MUSIC21 = {
    "kick": ("BassDrum", "1"),
    "rim": ("SnareDrum", "side"),
    "snare": ("SnareDrum", "acoustic"),
    "second floor tom": ("TomTom", "low floor"),
    "floor tom": ("TomTom", "high floor"),
    "mid tom": ("TomTom", "low-mid"),
    "high tom": ("TomTom", "high"),
    "foot hi-hat": ("HiHatCymbal", "pedal"),
    "hi-hat": ("HiHatCymbal", "closed"),
    "open hi-hat": ("HiHatCymbal", "open"),
    "crash": ("CrashCymbals", "1"),
    "second crash": ("CrashCymbals", "2"),
}
"""The surfaces whose keys that library maps to an instrument."""


def test_every_surface_is_checked() -> None:
    assert set(IN_THE_MAP) == set(load_surfaces())


@pytest.mark.parametrize(("name", "published"), IN_THE_MAP.items())
def test_key_in_the_published_map(name: str, published: str) -> None:
    assert LEVEL_1[find_surface(name).key] == published


@pytest.mark.parametrize(("name", "published"), IN_THE_MAP.items())
def test_key_as_another_library_names_it(name: str, published: str) -> None:
    named = pretty_midi.note_number_to_drum_name(find_surface(name).key)
    assert named.replace("Hi Hat", "Hi-Hat") == published


@pytest.mark.parametrize(("name", "instrument"), IN_MUSIC21.items())
def test_key_as_a_second_library_maps_it(name: str, instrument: tuple[str, str]) -> None:
    found = PercussionMapper().midiPitchToInstrument(find_surface(name).key)
    assert (type(found).__name__, found.modifier) == instrument


BOTTOM_LINE, TOP_LINE = 0, 8


def line(number: int) -> int:
    """Staff position of a line, counted from the bottom: 1 to 5 on the staff, 6 the first ledger line."""
    return 2 * (number - 1)


def space(number: int) -> int:
    """Staff position of a space, counted from the bottom: 0 below the staff, 1 to 4 in it, 5 above it."""
    return 2 * number - 1


@pytest.mark.parametrize(
    ("name", "position"),
    [
        ("kick", space(1)),
        ("floor tom", space(2)),
        ("snare", space(3)),
        ("rim", space(3)),
        ("high tom", space(4)),
        ("mid tom", line(4)),
        ("ride bow", line(5)),
        ("ride bell", line(5)),
        ("hi-hat", space(5)),
        ("open hi-hat", space(5)),
        ("crash", line(6)),
        ("foot hi-hat", space(0)),
    ],
)
def test_staff_position(name: str, position: int) -> None:
    assert find_surface(name).loc == position


def test_toms_fall_from_high_to_low_on_the_staff_and_in_pitch() -> None:
    toms = [find_surface(name) for name in ("high tom", "mid tom", "floor tom", "second floor tom")]
    assert sorted((tom.loc for tom in toms), reverse=True) == [tom.loc for tom in toms]
    assert sorted((tom.key for tom in toms), reverse=True) == [tom.key for tom in toms]
    assert len({tom.loc for tom in toms}) == 4


def test_drums_stand_on_the_staff_with_plain_heads() -> None:
    for drum in load_surfaces().values():
        if not drum.is_cymbal:
            assert BOTTOM_LINE < drum.loc < TOP_LINE
            assert drum.head == ("x" if drum.name == "rim" else "")


def test_cymbals_have_heads_like_an_x_and_stand_on_the_top_line_or_above_unless_a_foot_plays_them() -> None:
    for cymbal in load_surfaces().values():
        if cymbal.is_cymbal:
            assert cymbal.head in ("x", "diamond", "circle-x")
            assert cymbal.loc >= TOP_LINE or cymbal.foot


def test_only_the_open_hi_hat_carries_a_sign() -> None:
    assert [s.name for s in load_surfaces().values() if s.mark] == ["open hi-hat"]
    assert find_surface("open hi-hat").loc == find_surface("hi-hat").loc
