"""A phrase on paper: values, rests, tuplets, repeated bars, rhythms that can't be written."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.errors import NotationError
from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Bar, Fill, Part, Phrase, Span, build_landing, build_phrase
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.score.transcribe import transcribe
from fillwright.score.written import Item, Note, Rest, Tuplet, Voice


def strokes(*places: str, name: str = "4/4", struck: str = "snare") -> Phrase:
    """Return one bar of strokes written `at:length`, both in whole notes."""
    limb = find_surface(struck).foot or Limb.RIGHT
    hits = tuple(
        Hit(at=Fraction(at), length=Fraction(length), stroke=Stroke(hand=limb), surface=find_surface(struck))
        for at, _, length in (text.partition(":") for text in places)
    )
    return Phrase(meter=find_meter(name), bars=(Bar(part=Part.FILL, hits=hits),))


def format_items(items: tuple[Item, ...]) -> str:
    """Return items as text: 16 a note, r8 a rest, a dot after the value, a tuplet in brackets."""
    words = []
    for item in items:
        if isinstance(item, Tuplet):
            words.append(f"{item.actual}:{item.normal}({format_items(item.items)})")
        else:
            rest = "r" if isinstance(item, Rest) else ""
            words.append(f"{rest}{item.value}{'.' * item.dots}")
    return " ".join(words)


def beats(voice: Voice) -> list[str]:
    return [format_items(beat) for beat in voice.beats]


def hands(music: Phrase) -> list[str]:
    return beats(transcribe(music)[0].hands)


@pytest.mark.parametrize(
    ("places", "beat"),
    [
        (["0:1/4"], "4"),
        (["0:1/16", "1/16:1/16", "1/8:1/16", "3/16:1/16"], "16 16 16 16"),
        (["0:3/16", "3/16:1/16"], "8. 16"),
        (["0:1/16", "1/16:3/16"], "16 8."),
        (["0:1/12", "1/12:1/12", "1/6:1/12"], "3:2(8 8 8)"),
        (["0:1/6", "1/6:1/12"], "3:2(4 8)"),
        ([f"{n}/24:1/24" for n in range(6)], "6:4(16 16 16 16 16 16)"),
        (["0:1/8", "1/8:1/24", "1/6:1/24", "5/24:1/24"], "8 3:2(16 16 16)"),
        (["0:1/24", "1/24:1/24", "1/12:1/24", "1/8:1/8"], "3:2(16 16 16) 8"),
        (["0:1/12", "1/12:1/24", "1/8:1/24", "1/6:1/12"], "3:2(8 16 16 8)"),
        (["1/8:1/8"], "r8 8"),
        (["1/12:1/12"], "3:2(r8 8 r8)"),
        (["0:1/2"], "4"),
    ],
)
def test_a_beat(places: list[str], beat: str) -> None:
    assert hands(strokes(*places))[0] == beat


@pytest.mark.parametrize(
    ("places", "beat"),
    [
        (["0:1/16"], "16 r16 r8"),
        (["0:1/32"], "32 r32 r16 r8"),
        (["3/16:1/16"], "r8 r16 16"),
        (["1/16:1/16"], "r16 16 r8"),
        (["0:1/24"], "3:2(16 r16 r8 r8)"),
    ],
)
def test_rests_fill_up_the_smaller_value_first(places: list[str], beat: str) -> None:
    assert hands(strokes(*places))[0] == beat


@pytest.mark.parametrize(
    ("name", "places", "bar"),
    [
        ("4/4", ["0:1/4"], ["4", "r4", "r2"]),
        ("4/4", ["3/4:1/4"], ["r2", "r4", "4"]),
        ("4/4", ["1/4:1/4"], ["r4", "4", "r2"]),
        ("3/4", ["0:1/4"], ["4", "r4", "r4"]),
        ("6/8", ["0:3/8"], ["4.", "r4."]),
        ("6/8", ["1/8:1/8"], ["r8 8 r8", "r4."]),
        ("6/8", ["1/4:1/8"], ["r4 8", "r4."]),
        ("7/8", ["1/2:1/8"], ["r4", "r4", "8 r8 r8"]),
        ("5/4", [], ["r1"]),
    ],
)
def test_rests_of_a_bar(name: str, places: list[str], bar: list[str]) -> None:
    assert hands(strokes(*places, name=name)) == bar


def test_an_empty_voice_is_one_rest_as_long_as_the_bar() -> None:
    bar = transcribe(strokes("0:1/4", name="7/8"))[0]
    assert bar.feet.beats == ((Rest(at=Fraction(0), length=Fraction(7, 8), value=1, hidden=True),),)
    assert list(bar.feet.notes()) == []


def test_rests_of_the_feet_are_hidden_and_those_of_the_hands_are_not() -> None:
    kick = transcribe(strokes("0:1/8", struck="kick"))[0]
    assert {item.hidden for item in kick.feet.items() if isinstance(item, Rest)} == {True}
    snare = transcribe(strokes("0:1/8"))[0]
    assert {item.hidden for item in snare.hands.items() if isinstance(item, Rest)} == {False}


def test_heads_struck_together_go_from_the_lowest_up() -> None:
    music = build_phrase(find_groove("straight eighths"), None, bars=1)
    together = [
        [hit.surface.name for hit in note.hits]
        for note in transcribe(music)[0].hands.notes()
        if len(note.hits) > 1
    ]
    assert together == [["snare", "hi-hat"], ["snare", "hi-hat"]]


def test_a_tuplet_has_a_bracket_where_no_beam_holds_it() -> None:
    beamed = transcribe(strokes("0:1/12", "1/12:1/12", "1/6:1/12"))[0].hands.beats[0][0]
    loose = transcribe(strokes("0:1/6", "1/6:1/12"))[0].hands.beats[0][0]
    assert isinstance(beamed, Tuplet)
    assert isinstance(loose, Tuplet)
    assert (beamed.bracket, loose.bracket) == (False, True)
    assert (beamed.value, beamed.number) == (8, True)


def test_places_and_lengths_in_a_tuplet_are_those_played() -> None:
    notes = list(transcribe(strokes("0:1/6", "1/6:1/12"))[0].hands.notes())
    assert [(note.at, note.length) for note in notes] == [
        (Fraction(0), Fraction(1, 6)),
        (Fraction(1, 6), Fraction(1, 12)),
    ]


def test_a_bar_of_groove_like_the_one_before_is_a_repeat() -> None:
    groove = find_groove("straight eighths")
    fill = Fill(span=Span(start=Fraction(11, 4), length=Fraction(1, 4)), hits=())
    bars = transcribe(build_phrase(groove, fill, bars=3, land=build_landing(groove.meter, Limb.RIGHT)))
    assert [bar.repeats for bar in bars] == [False, True, False, False]
    assert [bar.number for bar in bars] == [1, 2, 3, 4]


def test_a_landing_like_the_bar_before_is_not_a_repeat() -> None:
    groove = find_groove("straight eighths")
    bars = transcribe(build_phrase(groove, None, bars=1, land=groove.hits))
    assert [bar.repeats for bar in bars] == [False, False]


def test_notes_have_ids_of_their_place() -> None:
    first, second = (note.id for note in transcribe(strokes("0:1/12", "1/12:1/12"))[0].hands.notes())
    assert (first, second) == ("b1h0-1", "b1h1-12")


def test_rolls_are_abbreviated_in_the_fill_where_asked() -> None:
    doubles = [Limb.RIGHT, Limb.RIGHT, Limb.LEFT, Limb.LEFT] * 2
    hits = tuple(
        Hit(at=Fraction(n, 32), length=Fraction(1, 32), stroke=Stroke(hand=hand), surface=find_surface("snare"))
        for n, hand in enumerate(doubles)
    )
    as_fill = Phrase(meter=find_meter("2/4"), bars=(Bar(part=Part.FILL, hits=hits),))
    as_groove = Phrase(meter=find_meter("2/4"), bars=(Bar(part=Part.GROOVE, hits=hits),))

    def first_beat(music: Phrase, *, short_rolls: bool) -> list[tuple[int, int]]:
        notes: list[Note] = list(transcribe(music, short_rolls=short_rolls)[0].hands.notes())
        return [(note.value, note.slashes) for note in notes]

    assert first_beat(as_fill, short_rolls=True) == [(4, 3)]
    assert first_beat(as_fill, short_rolls=False) == [(32, 0)] * 8
    assert first_beat(as_groove, short_rolls=True) == [(32, 0)] * 8


@pytest.mark.parametrize(
    ("name", "places", "says"),
    [
        ("4/4", ["0:1/20", "1/20:1/20"], "Strokes at 1/5, 2/5 of a beat"),
        ("6/8", ["0:1/24", "1/24:1/24"], "Strokes at 1/9, 2/9 of a beat"),
    ],
)
def test_a_rhythm_that_can_not_be_written_says_where(name: str, places: list[str], says: str) -> None:
    with pytest.raises(NotationError, match=f"^{says} .* can't be written together; .* thirds and sixths"):
        transcribe(strokes(*places, name=name))


def test_a_stroke_too_short_to_write_says_so() -> None:
    with pytest.raises(NotationError, match="A length of 1/256 whole notes is too short to write"):
        transcribe(strokes("0:1/256"))
