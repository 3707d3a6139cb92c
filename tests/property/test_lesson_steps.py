"""What a student gets of any rudiment: reachable, from easy to hard, no more than asked for, nothing twice."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.craft.brief import TEACHING_ORDER, Brief, StepKind
from fillwright.craft.chains.readings import fit_rhythms
from fillwright.craft.player.kits import load_kits
from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import load_players
from fillwright.craft.steps import StepPlan, plan_steps
from fillwright.music.meter import find_meter, list_meters
from fillwright.music.rudiments import load_rudiments
from fillwright.music.stroke import Limb

ONE_OF_A_KIND = (StepKind.LAST_BEAT, StepKind.TWO_BEATS, StepKind.WHOLE_BAR, StepKind.MIXED)
"""Steps that have one fill whatever is asked for; round the kit has one for each of its two spans."""


@st.composite
def briefs(draw: st.DrawFn) -> Brief:
    """A rudiment as any lesson may ask for it."""
    where = find_meter(draw(st.sampled_from(list(list_meters()))))
    return Brief(
        figure=draw(st.sampled_from([f for f in load_rudiments() if fit_rhythms(f, where)])),
        meter=where,
        bars=2,
        lead=draw(st.sampled_from([Limb.RIGHT, Limb.LEFT])),
        earlier=(draw(st.sampled_from(load_rudiments())),),
        kit=draw(st.sampled_from(list(load_kits().values()))),
        player=draw(st.sampled_from(list(load_players().values()))),
        tempo=draw(st.integers(30, 160)),
        per_step=draw(st.integers(1, 6)),
    )


def made_kinds(made: StepPlan) -> Counter[StepKind]:
    return Counter(step.kind for step in made.steps)


def told_kinds(made: StepPlan) -> set[StepKind]:
    return {kind for kind in TEACHING_ORDER for sentence in made.left_out if f", {kind.value}: " in sentence}


@settings(deadline=None, max_examples=150)
@given(briefs())
def test_every_fill_can_be_played_at_the_slowest_tempo(brief: Brief) -> None:
    """Reckoned anew from the hits of the fill, as a student sees them."""
    motion = Motion(brief.kit, brief.player)
    whole_seconds = 60 / brief.tempo / float(brief.meter.tempo_unit)
    for step in plan_steps(brief).steps:
        hits = step.fill.hits
        touches = motion.touches(hits, [hit.grace_surface.name for hit in hits])
        worst = max((demand.at(whole_seconds) for demand in motion.demands(touches)), default=0.0)
        assert worst <= 1 + 1e-9
        assert step.route.ceiling_bpm >= brief.tempo * (1 - 1e-9)


@settings(deadline=None, max_examples=150)
@given(briefs())
def test_fills_go_from_easy_to_hard_and_among_equals_in_teaching_order(brief: Brief) -> None:
    order = list(StepKind)
    ranks = [(step.route.grade, order.index(step.kind)) for step in plan_steps(brief).steps]
    assert all(easier <= harder for easier, harder in pairwise(ranks))


@settings(deadline=None, max_examples=150)
@given(briefs())
def test_a_step_has_no_more_fills_than_asked_for_and_none_twice(brief: Brief) -> None:
    made = plan_steps(brief)
    for kind, count in made_kinds(made).items():
        most = 1 if kind in ONE_OF_A_KIND else 2 if kind is StepKind.ROUND else brief.per_step
        assert count <= most, kind.value
    fills = [step.fill for step in made.steps]
    assert len(set(fills)) == len(fills)


@settings(deadline=None, max_examples=100)
@given(briefs())
def test_asking_for_more_of_a_step_keeps_what_one_would_give(brief: Brief) -> None:
    once = {(step.kind, step.fill) for step in plan_steps(replace(brief, per_step=1)).steps}
    several = {step.fill for step in plan_steps(brief).steps}
    assert {fill for _, fill in once} <= several


@settings(deadline=None, max_examples=100)
@given(briefs())
def test_a_step_is_made_or_reported(brief: Brief) -> None:
    """Or it would repeat a fill that stands already, as the last beat of a two-beat figure does."""
    made = plan_steps(brief)
    assert not told_kinds(made) & set(made_kinds(made))
    silent = set(TEACHING_ORDER) - told_kinds(made) - set(made_kinds(made))
    for kind in silent:
        alone = plan_steps(replace(brief, kinds=(kind,))).steps
        assert alone
        assert {step.fill for step in alone} <= {step.fill for step in made.steps}


@settings(deadline=None, max_examples=100)
@given(briefs())
def test_whoever_is_faster_is_taught_all_that_a_slower_one_is(brief: Brief) -> None:
    taught = []
    for player in load_players().values():
        asked = replace(brief, player=player, per_step=1, kinds=(*ONE_OF_A_KIND[:3], StepKind.ROUND))
        taught.append(made_kinds(plan_steps(asked)))
    assert all(slower <= faster for slower, faster in pairwise(taught))


@settings(deadline=None, max_examples=60)
@given(briefs())
def test_a_kit_without_toms_leaves_out_what_needs_them_and_says_so(brief: Brief) -> None:
    made = plan_steps(replace(brief, kit=load_kits()["practice pad"]))
    struck = {hit.surface.name for step in made.steps for hit in step.fill.hits}
    struck |= {hit.grace_surface.name for step in made.steps for hit in step.fill.hits}
    assert struck <= {"snare", "kick"}
    needing = {StepKind.ROUND, StepKind.ACCENTS, StepKind.APART, StepKind.BY_POSITION, StepKind.CYMBALS}
    assert needing | {StepKind.SPLIT_FLAMS, StepKind.UP, StepKind.MIXED} <= told_kinds(made)
    assert all(sentence.startswith(brief.figure.name) for sentence in made.left_out)
    assert all(sentence.endswith(".") for sentence in made.left_out)
