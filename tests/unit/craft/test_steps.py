"""The teaching order: which steps a brief makes, what they are called, what is left out and why."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from fillwright.craft.brief import TEACHING_ORDER, Brief, StepKind, fit_figure
from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.players import find_player
from fillwright.craft.steps import Step, StepPlan, describe_span, plan_steps
from fillwright.errors import FitError, SpanError
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import locate_last_beats
from fillwright.music.rudiments import find_figure, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb

FOUR = find_meter("4/4")
PARADIDDLE = find_figure("single paradiddle")
SINGLES = find_figure("single stroke roll")


def made(name: str, where: str = "4/4", **asked: object) -> StepPlan:
    brief = Brief(figure=find_figure(name), meter=find_meter(where))
    return plan_steps(replace(brief, **asked))  # type: ignore[arg-type]


def one(name: str, kind: StepKind, where: str = "4/4", **asked: object) -> Step:
    (step,) = made(name, where, kinds=(kind,), **asked).steps
    return step


def own(sticking: str, values: str, *, name: str = "own") -> Figure:
    strokes = parse_sticking(sticking)
    return Figure(name=name, group="own", strokes=strokes, rhythms=(parse_rhythm(values, len(strokes)),))


def hands(step: Step) -> str:
    return "".join(hit.stroke.hand.value for hit in step.fill.hits if not hit.stroke.hand.is_foot)


def test_a_paradiddle_goes_through_every_step() -> None:
    steps = made("single paradiddle", earlier=(SINGLES,)).steps
    assert {step.kind for step in steps} == {
        kind for kind in TEACHING_ORDER if kind is not StepKind.SPLIT_FLAMS
    }
    captions = [step.caption for step in steps]
    assert captions[:3] == [
        "Last beat, all on the snare",
        "Last two beats, all on the snare",
        "Whole bar, all on the snare",
    ]
    assert "Last three beats, round the kit beat by beat: snare, high tom, floor tom" in captions
    assert "Whole bar, round the kit beat by beat: snare, high tom, mid tom, floor tom" in captions
    assert "Whole bar, 1 beat on the snare, answered on the floor tom by the single stroke roll" in captions


def test_steps_are_sorted_from_easy_to_hard() -> None:
    steps = made("flam tap", kinds=(StepKind.WHOLE_BAR, StepKind.LAST_BEAT)).steps
    assert [step.kind for step in steps] == [StepKind.LAST_BEAT, StepKind.WHOLE_BAR]


def test_nothing_is_taught_above_the_ceiling_of_the_player() -> None:
    slow, fast = (find_player(name) for name in ("first-year", "professional"))
    asked = {"kinds": (StepKind.ROUND, StepKind.CYMBALS), "tempo": 90}
    low, high = (made("flam tap", player=player, **asked) for player in (slow, fast))
    assert not low.steps
    assert low.left_out == (
        "flam tap, round the kit: it is too fast for this player at 90 bpm.",
        "flam tap, ends on cymbals: it is too fast for this player at 90 bpm.",
    )
    assert len(high.steps) == 3
    assert all(step.route.ceiling_bpm >= 90 for step in high.steps)


def test_a_step_may_have_several_fills() -> None:
    several = made("flam accent", kinds=(StepKind.ACCENTS, StepKind.BY_POSITION), per_step=3).steps
    once = made("flam accent", kinds=(StepKind.ACCENTS, StepKind.BY_POSITION)).steps
    assert len(once) == 2
    assert 2 < len(several) <= 6
    assert {step.fill for step in once} <= {step.fill for step in several}


def test_a_pad_has_only_the_snare() -> None:
    found = made("single paradiddle", kit=find_kit("practice pad"), earlier=(SINGLES,))
    assert {hit.surface.name for step in found.steps for hit in step.fill.hits} <= {"snare", "kick"}
    assert (
        "single paradiddle, hands apart: there is no such fill for this figure on this kit." in found.left_out
    )
    assert any(sentence.startswith("single paradiddle, mixed:") for sentence in found.left_out)


def test_where_nothing_is_left_out_nothing_is_said() -> None:
    assert made("flam accent", earlier=(SINGLES,)).left_out == ()


def test_a_figure_longer_than_a_beat_starts_with_the_fewest_beats_it_fills() -> None:
    step = one("nine stroke roll", StepKind.LAST_BEAT)
    assert step.caption == "Last two beats, all on the snare"
    again = made("nine stroke roll", kinds=(StepKind.LAST_BEAT, StepKind.TWO_BEATS)).steps
    assert [s.kind for s in again] == [StepKind.LAST_BEAT]


def test_a_figure_that_fills_no_bar_takes_the_most_beats_of_it() -> None:
    accents = find_figure("flam accent")
    step = one("flam accent", StepKind.WHOLE_BAR, rhythm=accents.rhythms[1])
    assert step.caption == "Last three beats, all on the snare"
    assert step.rhythm.name == "sixteenths"


def test_the_first_rhythm_that_fits_is_taken() -> None:
    assert one("flam accent", StepKind.WHOLE_BAR).rhythm.name == "triplets"
    assert one("single paradiddle", StepKind.WHOLE_BAR, "7/8").rhythm.name == "thirty-seconds"


@pytest.mark.parametrize("where", ["6/8", "9/8", "12/8"])
def test_a_rhythm_in_triplets_goes_in_eighths_where_beats_go_in_threes(where: str) -> None:
    step = one("flam accent", StepKind.WHOLE_BAR, where, rhythm=parse_rhythm("8t", 3))
    assert {hit.length for hit in step.fill.hits} == {Fraction(1, 8)}


def test_a_rhythm_in_triplets_has_no_room_in_seven_eight() -> None:
    with pytest.raises(FitError, match=r"^flam accent has triplets only, and they don't fit 7/8"):
        made("flam accent", "7/8", rhythm=parse_rhythm("8t", 3))


def test_a_rhythm_with_too_few_values_is_refused() -> None:
    with pytest.raises(
        FitError, match=r"^triplets has 3 note values for the 4 places of single paradiddle; write one"
    ):
        made("single paradiddle", rhythm=parse_rhythm("8t", 3))


@pytest.mark.parametrize(
    ("name", "kind", "sentence"),
    [
        (
            "seventeen stroke roll",
            StepKind.TWO_BEATS,
            "seventeen stroke roll, last two beats: seventeen stroke roll in sixteen thirty-seconds and a "
            "quarter does not fill the last 2 beats of 4/4: one repetition takes 3 beats, so use the last 3 "
            "beats.",
        ),
        (
            "triple stroke roll",
            StepKind.CYMBALS,
            "triple stroke roll, ends on cymbals: it is too fast for this player at 60 bpm.",
        ),
        ("flam", StepKind.MIXED, "flam, mixed: there is no earlier figure."),
    ],
)
def test_a_skipped_step_has_a_reason(name: str, kind: StepKind, sentence: str) -> None:
    assert made(name, kinds=(kind,)) == StepPlan(steps=(), left_out=(sentence,))


@pytest.mark.parametrize("kind", [StepKind.LAST_BEAT, StepKind.WHOLE_BAR, StepKind.ACCENTS])
def test_a_figure_that_fills_no_beats_of_a_bar_is_skipped(kind: StepKind) -> None:
    long = plan_steps(Brief(figure=own("R L R L R", "4"), meter=FOUR, kinds=(kind,)))
    assert long.left_out == (f"own, {kind.value}: the figure fills no whole beats of a bar.",)


def test_a_figure_that_fills_one_beat_does_not_go_round_the_kit() -> None:
    odd = plan_steps(Brief(figure=own("R L R L R", "4"), meter=FOUR, kinds=(StepKind.ROUND,)))
    assert odd.left_out == (
        "own, round the kit: the figure does not fill a bar, and it takes a bar to go round the kit.",
    )
    two = plan_steps(Brief(figure=own("R L", "8"), meter=find_meter("2/4"), kinds=(StepKind.ROUND,))).steps
    assert [step.caption for step in two] == ["Whole bar, round the kit beat by beat: snare, floor tom"]


def test_a_figure_that_fills_three_beats_of_five_goes_round_them() -> None:
    steps = plan_steps(
        Brief(figure=own("R L R L", "16 16 16 16"), meter=find_meter("5/4"), kinds=(StepKind.ROUND,))
    ).steps
    assert [step.caption.split(",")[0] for step in steps] == ["Last three beats", "Whole bar"]


def test_a_figure_of_two_beats_goes_round_the_bar_alone() -> None:
    steps = made("nine stroke roll", kinds=(StepKind.ROUND,)).steps
    assert [step.caption.split(",")[0] for step in steps] == ["Whole bar"]


def test_a_figure_is_mixed_with_the_one_taught_last_that_shares_a_bar_with_it() -> None:
    flam, long = find_figure("flam"), own("R L R", "4", name="long")
    step = one("single paradiddle", StepKind.MIXED, earlier=(SINGLES, flam, long, PARADIDDLE))
    assert step.mixed_with is flam
    assert step.caption == "Whole bar, 1 beat on the snare, answered on the floor tom by the flam"


def test_a_figure_of_two_beats_is_answered_by_two_beats() -> None:
    step = one("nine stroke roll", StepKind.MIXED, earlier=(SINGLES,))
    assert step.caption.startswith("Whole bar, 2 beats on the snare, answered")
    assert [hit.surface.name for hit in step.fill.hits] == ["snare"] * 9 + ["floor tom"] * 8


@pytest.mark.parametrize("earlier", [(own("R L R", "4", name="long"),), (PARADIDDLE,)])
def test_where_no_earlier_figure_fits_the_mix_is_left_out(earlier: tuple[Figure, ...]) -> None:
    assert made("single paradiddle", kinds=(StepKind.MIXED,), earlier=earlier).left_out == (
        "single paradiddle, mixed: no earlier figure shares a bar with it in equal parts.",
    )


def test_a_mix_goes_on_hand_to_hand() -> None:
    step = one("single paradiddle", StepKind.MIXED, earlier=(find_figure("single stroke seven"),))
    assert hands(step) == "RLRRLRLRLRLRLRRLRLRLRL"
    assert step.lands is Limb.RIGHT


def test_the_odd_bar_has_no_mix() -> None:
    assert made("single paradiddle", "3/4", kinds=(StepKind.MIXED,), earlier=(SINGLES,)).steps == ()


@pytest.mark.parametrize(
    ("lead", "beats", "lands"),
    [
        (Limb.RIGHT, 1, Limb.LEFT),
        (Limb.RIGHT, 2, Limb.RIGHT),
        (Limb.LEFT, 1, Limb.RIGHT),
        (Limb.LEFT, 2, Limb.LEFT),
    ],
)
def test_the_hand_that_is_free_lands(lead: Limb, beats: int, lands: Limb) -> None:
    (step,) = made("single paradiddle", kinds=(), lead=lead, beats=(Fraction(beats),)).steps
    assert step.lands is lands
    assert step.fill.hits[0].stroke.hand is lead


def test_own_spans_come_after_steps_of_the_same_grade() -> None:
    steps = made("single stroke roll", kinds=(StepKind.LAST_BEAT,), beats=(Fraction(5, 2), Fraction(8))).steps
    assert [step.caption for step in steps] == [
        "Last beat, all on the snare",
        "Last 2½ beats, all on the snare",
        "Last two bars, all on the snare",
    ]
    assert [step.kind for step in steps] == [StepKind.LAST_BEAT, StepKind.OWN_SPAN, StepKind.OWN_SPAN]


def test_an_own_span_that_is_already_a_step_appears_once() -> None:
    steps = made("flam tap", kinds=(StepKind.WHOLE_BAR,), beats=(Fraction(4), Fraction(4))).steps
    assert [step.kind for step in steps] == [StepKind.WHOLE_BAR]


def test_own_spans_among_the_kinds_are_those_of_the_brief() -> None:
    steps = made("flam tap", kinds=(StepKind.OWN_SPAN, StepKind.LAST_BEAT), beats=(Fraction(2),)).steps
    assert [step.kind for step in steps] == [StepKind.LAST_BEAT, StepKind.OWN_SPAN]
    assert made("flam tap", kinds=(StepKind.OWN_SPAN,)) == StepPlan(steps=(), left_out=())


def test_an_own_span_that_does_not_fit_is_refused() -> None:
    with pytest.raises(
        FitError, match=r"does not fill the last 2½ beats of 4/4: .* use the last 1, 2, 3 or 4 beats"
    ):
        made("single paradiddle", kinds=(), beats=(Fraction(5, 2),), rhythm=PARADIDDLE.rhythms[0])


def test_of_several_rhythms_the_one_that_fits_most_spans_explains_a_misfit() -> None:
    with pytest.raises(FitError, match=r"^flam accent in triplets does not fill the last 3½ beats"):
        made("flam accent", kinds=(), beats=(Fraction(7, 2),))


@pytest.mark.parametrize("beats", ["0", "-1", "17"])
def test_a_span_outside_the_phrase_is_a_mistake(beats: str) -> None:
    with pytest.raises(SpanError, match=r"does not fit in 4 bars of 4/4"):
        made("flam", beats=(Fraction(beats),))


@pytest.mark.parametrize("bars", [0, 65])
def test_a_phrase_of_no_bars_or_too_many_is_a_mistake(bars: int) -> None:
    with pytest.raises(SpanError, match=r"can't be written"):
        made("flam", bars=bars)


def test_a_chain_for_some_beats() -> None:
    found = fit_figure(Brief(figure=PARADIDDLE, meter=FOUR), Fraction(3))
    assert (found.chain.length, found.rhythm.name) == (Fraction(3, 4), "sixteenths")
    assert found.span.start == Fraction(13, 4)


@pytest.mark.parametrize(
    ("beats", "where", "words"),
    [
        ("1", "4/4", "Last beat"),
        ("1/2", "4/4", "Last ½ beat"),
        ("5/2", "4/4", "Last 2½ beats"),
        ("4", "4/4", "Whole bar"),
        ("6", "4/4", "Last six beats"),
        ("8", "4/4", "Last two bars"),
        ("1", "7/8", "Last beat"),
        ("3", "7/8", "Whole bar"),
    ],
)
def test_a_span_in_words(beats: str, where: str, words: str) -> None:
    assert describe_span(locate_last_beats(find_meter(where), 4, Fraction(beats)), find_meter(where)) == words
