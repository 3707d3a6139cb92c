"""Fills in outline: which surface each stroke goes to."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.craft.chains import Chain, repeat
from fillwright.craft.fills import (
    accents_to_toms,
    ends_on_cymbals,
    hands_apart,
    one_surface,
    round_by_beat,
    snare_then_tom,
)
from fillwright.music.figure import Figure
from fillwright.music.meter import meter
from fillwright.music.phrase import Fill, Span, last_beats
from fillwright.music.rudiments import find_figure, rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Kind, Level, Limb

FOUR = meter("4/4")
SHORT = {
    "snare": "s",
    "high tom": "h",
    "mid tom": "m",
    "floor tom": "f",
    "crash": "C",
    "kick": "k",
}


def own(sticking: str, values: str, *, alternates: bool = False) -> Figure:
    strokes = parse_sticking(sticking)
    return Figure(
        name="own",
        group="own",
        strokes=strokes,
        rhythms=(rhythm(values, len(strokes)),),
        alternates=alternates,
    )


def chain(figure: Figure, turns: int, lead: Limb = Limb.RIGHT) -> Chain:
    return repeat(figure, figure.rhythms[0], turns, lead)


def routed(fill: Fill) -> str:
    """A letter for each hit, a space before each beat."""
    words = ""
    for hit in fill.hits:
        words += " " * (hit.at % Fraction(1, 4) == 0 and hit.surface.name != "kick") + SHORT[hit.surface.name]
    return words.strip()


def hands(fill: Fill) -> str:
    return "".join(hit.stroke.hand.value for hit in fill.hits if not hit.stroke.hand.is_foot)


def span(beats: str, name: str = "4/4", bars: int = 4) -> Span:
    return last_beats(meter(name), bars, Fraction(beats))


PARADIDDLE = find_figure("single paradiddle")
SINGLES = find_figure("single stroke roll")


def test_one_surface() -> None:
    assert routed(one_surface(chain(PARADIDDLE, 2), span("2"))) == "ssss ssss"
    assert routed(one_surface(chain(PARADIDDLE, 1), span("1"), "floor tom")) == "ffff"


@pytest.mark.parametrize(
    ("beats", "wanted"),
    [
        ("1", "ssss"),
        ("2", "ssss ffff"),
        ("3", "ssss hhhh ffff"),
        ("4", "ssss hhhh mmmm ffff"),
        ("8", "ssss ssss hhhh hhhh mmmm mmmm ffff ffff"),
    ],
)
def test_round_by_beat(beats: str, wanted: str) -> None:
    assert routed(round_by_beat(chain(PARADIDDLE, int(beats)), span(beats), FOUR)) == wanted


def test_a_start_off_the_beat_is_a_beat_of_its_own() -> None:
    fill = round_by_beat(chain(SINGLES, 5), span("5/2"), FOUR)
    assert "".join(SHORT[hit.surface.name] for hit in fill.hits) == "sshhhhffff"


def test_five_beats_share_four_drums() -> None:
    where = meter("5/4")
    fill = round_by_beat(chain(PARADIDDLE, 5), span("5", "5/4"), where)
    assert routed(fill) == "ssss ssss hhhh mmmm ffff"


@pytest.mark.parametrize(
    ("name", "wanted"), [("12/8", "ssssss hhhhhh mmmmmm ffffff"), ("7/8", "ssss hhhh ffffff")]
)
def test_round_by_the_beats_of_the_meter(name: str, wanted: str) -> None:
    where = meter(name)
    fill = round_by_beat(chain(SINGLES, int(where.bar * 8)), span(str(len(where.beats)), name), where)
    starts = set(where.beat_starts)
    words = "".join(" " * (hit.at in starts) + SHORT[hit.surface.name] for hit in fill.hits)
    assert words.strip() == wanted


def test_accents_to_the_tom_on_the_hand_s_own_side() -> None:
    assert routed(accents_to_toms(chain(PARADIDDLE, 4), span("4"), FOUR)) == "fsss hsss fsss hsss"


def test_without_accents_each_beat_is_accented() -> None:
    fill = accents_to_toms(chain(SINGLES, 8), span("4"), FOUR)
    assert routed(fill) == "fsss fsss fsss fsss"
    assert [hit.at for hit in fill.hits if hit.stroke.level is Level.ACCENT] == [
        Fraction(n, 4) for n in range(4)
    ]


def test_hands_apart() -> None:
    fill = hands_apart(chain(PARADIDDLE, 2), span("2"))
    assert hands(fill) == "RLRRLRLL"
    assert routed(fill) == "fsff sfss"


def test_the_end_of_each_turn_that_ends_a_beat_goes_to_the_crash_with_the_kick() -> None:
    fill = ends_on_cymbals(chain(PARADIDDLE, 2), span("2"), FOUR)
    assert fill is not None
    assert routed(fill) == "sssCk sssCk"
    crashes = [hit.stroke for hit in fill.hits if hit.surface.name == "crash"]
    assert {stroke.level for stroke in crashes} == {Level.ACCENT}
    kicks = [hit.stroke.hand for hit in fill.hits if hit.surface.name == "kick"]
    assert kicks == [Limb.RIGHT_FOOT] * 2


def test_a_stroke_with_grace_notes_is_plain_on_the_crash() -> None:
    fill = ends_on_cymbals(chain(find_figure("pataflafla"), 1), span("1"), FOUR)
    assert fill is not None
    crash = next(hit for hit in fill.hits if hit.surface.name == "crash")
    assert (crash.stroke.kind, crash.stroke.hand) == (Kind.SINGLE, Limb.LEFT)


def test_a_figure_of_one_stroke_ends_on_the_crash_once() -> None:
    fill = ends_on_cymbals(chain(find_figure("flam"), 4), span("4"), FOUR)
    assert fill is not None
    assert routed(fill) == "s s s Ck"


def test_a_turn_that_ends_between_beats_stays_on_the_snare_unless_it_is_the_last() -> None:
    figure = own("R L R", "16", alternates=True)
    fill = ends_on_cymbals(chain(figure, 4), span("3"), FOUR)
    assert fill is not None
    assert routed(fill) == "ssss ssss sssCk"


@pytest.mark.parametrize(
    ("sticking", "values", "turns"),
    [
        ("R L R L R L R R", "32", 1),  # on to the crash
        ("R L L R L R L R", "32", 2),  # on to the crash and back
        ("L R L R L R L R", "32t", 3),  # back and forth within a thirty-second-triplet's time
        ("R L L", "16 32 32", 2),
    ],
)
def test_no_hand_parts_quick_strokes_between_snare_and_crash(sticking: str, values: str, turns: int) -> None:
    figure = own(sticking, values)
    length = sum(figure.rhythms[0].lengths, Fraction(0)) * turns
    assert ends_on_cymbals(chain(figure, turns), Span(start=4 - length, length=length), FOUR) is None


def test_a_hand_has_time_for_the_crash_where_its_strokes_are_a_sixteenth_apart() -> None:
    span = Span(start=Fraction(3), length=Fraction(1, 4))
    assert ends_on_cymbals(chain(own("R L L", "16 16 8"), 1), span, FOUR) is not None
    assert ends_on_cymbals(chain(own("R L L", "8 32 16."), 1), span, FOUR) is None


def test_two_chains_in_turn_on_snare_and_floor_tom_hand_to_hand() -> None:
    answer = chain(SINGLES, 2, Limb.LEFT)
    fill = snare_then_tom(chain(PARADIDDLE, 1), answer, span("4"))
    assert routed(fill) == "ssss ffff ssss ffff"
    assert hands(fill) == "RLRRLRLRLRLLRLRL"


def test_a_pair_of_chains_is_played_once_where_it_takes_the_whole_span() -> None:
    fill = snare_then_tom(chain(PARADIDDLE, 2), chain(SINGLES, 4), span("4"))
    assert routed(fill) == "ssss ssss ffff ffff"
