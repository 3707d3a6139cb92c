"""What holds for every fill: spans filled exactly, hands of the figure, playable at every instant."""

from __future__ import annotations

from collections import Counter, defaultdict
from fractions import Fraction
from functools import cache
from itertools import pairwise

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fillwright.craft.brief import TEACHING_ORDER, Brief, StepKind
from fillwright.craft.chains.chain import (
    Chain,
    describe_misfit,
    fill_span,
    find_fitting_beats,
    fits_span,
    repeat_figure,
)
from fillwright.craft.chains.readings import fit_rhythms
from fillwright.craft.player.kits import load_kits
from fillwright.craft.player.motion import Motion
from fillwright.craft.player.players import find_player, load_players
from fillwright.craft.routes.families import find_family_routes
from fillwright.craft.routes.route import DOUBLED, Family, Setting
from fillwright.craft.steps import Step, StepPlan, plan_steps
from fillwright.errors import FillwrightError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.grooves import Groove, load_grooves
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter, find_meter, list_meters
from fillwright.music.phrase import Fill, Span, build_landing, build_phrase, locate_last_beats
from fillwright.music.rudiments import load_rudiments, name_rhythm, parse_rhythm
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Level, Limb, Stroke
from fillwright.music.timing import SLOWEST, time_phrase
from fillwright.score.transcribe import transcribe

HANDS = st.sampled_from([Limb.RIGHT, Limb.LEFT])
METERS = st.sampled_from([find_meter(name) for name in list_meters()])
VALUES = "2 4 8 16 32 4t 8t 16t 32t 4. 8. 16.".split()
STROKES = "R L lR rL llR rrL R> L> (R) (L) Rz Lz -".split()


@st.composite
def own_figures(draw: st.DrawFn) -> Figure:
    """A teacher's figure: any strokes, in one or two rhythms."""
    words = [draw(st.sampled_from(STROKES[:-1])), *draw(st.lists(st.sampled_from(STROKES), max_size=6))]
    strokes = parse_sticking(" ".join(words))
    values = st.one_of(
        st.sampled_from(VALUES),
        st.lists(st.sampled_from(VALUES), min_size=len(words), max_size=len(words)).map(" ".join),
    )
    rhythms = draw(st.lists(values, min_size=1, max_size=2))
    return Figure(
        name="own",
        group="own",
        strokes=strokes,
        rhythms=tuple(parse_rhythm(text, len(words)) for text in rhythms),
        alternates=draw(st.booleans()),
    )


figures = st.one_of(st.sampled_from(load_rudiments()), own_figures())


@st.composite
def briefs(draw: st.DrawFn) -> Brief:
    """Anything that may be asked of a figure, sense or not."""
    figure, where = draw(figures), draw(METERS)
    rhythms = st.one_of(
        st.sampled_from(figure.rhythms),
        st.lists(st.sampled_from(VALUES), min_size=1, max_size=6).map(" ".join).map(any_rhythm),
    )
    halves = st.integers(-1, 20).map(lambda n: Fraction(n, 2))
    beats = st.lists(st.one_of(halves, st.fractions(0, 5, max_denominator=12)), max_size=2)
    return Brief(
        figure=figure,
        meter=where,
        bars=draw(st.integers(0, 5)),
        kinds=tuple(draw(st.lists(st.sampled_from(StepKind), max_size=4))),
        rhythm=draw(st.one_of(st.none(), rhythms)),
        lead=draw(HANDS),
        beats=tuple(draw(beats)),
        earlier=tuple(draw(st.lists(figures, max_size=2))),
        kit=draw(st.sampled_from([kit for kit in load_kits().values() if not kit.mirrored])),
        player=draw(st.sampled_from(list(load_players().values()))),
        tempo=draw(st.sampled_from([20, 60, 120, 400])),
        per_step=draw(st.integers(1, 3)),
    )


def any_rhythm(text: str) -> Rhythm:
    return parse_rhythm(text, len(text.split()))


@cache
def grooves_in(name: str) -> tuple[Groove, ...]:
    return tuple(groove for groove in load_grooves() if groove.meter.name == name)


def in_its_phrase(fill: Fill, lands: Limb, groove: Groove, bars: int) -> tuple[object, object]:
    """A fill in its phrase on paper and in seconds."""
    whole = build_phrase(groove, fill, bars=bars, land=build_landing(groove.meter, lands))
    return transcribe(whole), time_phrase(whole, 80)


@st.composite
def chains(draw: st.DrawFn) -> tuple[Chain, Figure, Span, Meter]:
    """A chain with its figure, over a span that it fills."""
    figure, where = draw(figures), draw(METERS)
    bars = draw(st.integers(1, 2))
    choices = [
        (r, beats) for r in fit_rhythms(figure, where) for beats in find_fitting_beats(r, where, bars=bars)
    ]
    assume(choices)
    read, beats = draw(st.sampled_from(choices))
    span = locate_last_beats(where, bars, beats)
    return fill_span(figure, read, span, where, lead=draw(HANDS)), figure, span, where


@settings(deadline=None)
@given(chains())
def test_a_chain_fills_its_span_exactly(made: tuple[Chain, Figure, Span, Meter]) -> None:
    chain, figure, span, _ = made
    assert chain.length == span.length
    places = [length for reading in chain.readings for length in reading.lengths]
    assert sum(places) == span.length
    placed = list(chain.place_strokes())
    assert len(placed) == figure.main_strokes * len(chain.readings)
    assert all(a.at + a.length <= b.at for a, b in pairwise(placed))
    assert placed[-1].at + placed[-1].length <= span.length


@settings(deadline=None)
@given(chains())
def test_the_hands_are_those_of_the_figure_from_either_lead(made: tuple[Chain, Figure, Span, Meter]) -> None:
    chain, figure, _, _ = made
    by_turn: defaultdict[int, list[Stroke]] = defaultdict(list)
    for placed in chain.place_strokes():
        by_turn[placed.statement].append(placed.stroke)
    leads = [strokes[0].hand for _, strokes in sorted(by_turn.items())]
    for lead, strokes in zip(leads, by_turn.values(), strict=True):
        assert strokes == [stroke for stroke in figure.lead_with(lead) if stroke]
    changes = {a is not b for a, b in pairwise(leads)}
    assert changes <= {figure.alternates}
    assert chain.last_hand is list(chain.place_strokes())[-1].stroke.hand


def setting(span: Span, where: Meter, player: str = "professional") -> Setting:
    """Where a chain is played, so slowly that only what nobody can play is refused."""
    return Setting(
        span=span, meter=where, kit=load_kits()["five-piece"], player=find_player(player), tempo=SLOWEST
    )


@settings(deadline=None)
@given(chains(), st.sampled_from(sorted(load_players())))
def test_a_fill_that_goes_round_the_kit_has_no_higher_ceiling_than_on_the_snare(
    made: tuple[Chain, Figure, Span, Meter], player: str
) -> None:
    chain, _, span, where = made
    here = setting(span, where, player)
    snare = [r for r in find_family_routes(chain, here, [Family.ONE_SURFACE]) if set(r.surfaces) == {"snare"}]
    for route in find_family_routes(chain, here, [Family.ROUND]):
        assert not snare or route.ceiling_bpm <= snare[0].ceiling_bpm


@settings(deadline=None)
@given(figures, METERS, st.integers(1, 2), st.integers(1, 10), HANDS)
def test_a_misfit_names_spans_that_do_fit(
    figure: Figure, where: Meter, bars: int, halves: int, lead: Limb
) -> None:
    assume(halves <= 2 * bars * len(where.beats))
    span = locate_last_beats(where, bars, Fraction(halves, 2))
    for read in fit_rhythms(figure, where):
        if fits_span(read, span, where):
            assert fill_span(figure, read, span, where, lead=lead).length == span.length
            continue
        sentence = describe_misfit(figure, read, span, where)
        named = sentence.rpartition(" use the last ")[2] if " use the last " in sentence else ""
        for beats in numbers(named):
            long = locate_last_beats(where, 4, beats)
            assert fill_span(figure, read, long, where, lead=lead).length == long.length
        assert bool(named) == any(find_fitting_beats(read, where, bars=4))


def numbers(named: str) -> list[Fraction]:
    """The beats of "1½, 2 or 3 beats."."""
    words = named.replace(",", " ").replace("or", " ").replace("½", ".5").rstrip(".").split()
    return [Fraction(word) for word in words if word not in ("beat", "beats")]


@given(figures, HANDS, st.integers(1, 6))
def test_a_repeated_figure_has_as_many_readings(figure: Figure, lead: Limb, turns: int) -> None:
    for read in figure.rhythms:
        chain = repeat_figure(figure, read, turns, lead)
        assert chain.length == turns * read.length
        assert next(chain.place_strokes()).stroke.hand is lead
        assert chain.lead_with(lead.other).last_hand is chain.last_hand.other


def asked_for(brief: Brief) -> StepPlan | None:
    """The plan of a brief, or None where it raises one of our errors; anything else escapes."""
    try:
        return plan_steps(brief)
    except FillwrightError:
        return None


@settings(deadline=None, max_examples=400)
@given(briefs())
def test_a_brief_gives_a_plan_or_an_error_of_ours_and_all_of_a_plan_holds(brief: Brief) -> None:
    made = asked_for(brief)
    if made is None:
        return
    fills = [step.fill for step in made.steps]
    assert len(set(fills)) == len(fills), "no two steps are alike"
    kinds = {step.kind for step in made.steps}
    assert kinds <= {*brief.kinds, *([StepKind.OWN_SPAN] if brief.beats else [])}
    assert len(made.left_out) <= len(brief.kinds) + bool(brief.beats)
    assert [step.route.grade for step in made.steps] == sorted(step.route.grade for step in made.steps)
    for step in made.steps:
        check_step(step, brief)
        check_motion(step, brief)


def check_motion(step: Step, brief: Brief) -> None:
    """The player can do it at the slowest tempo, reckoned anew from the hits alone."""
    motion = Motion(brief.kit, brief.player)
    whole = 60 / brief.tempo / float(brief.meter.tempo_unit)
    hits = step.fill.hits
    touches = motion.touches(hits, [hit.grace_surface.name for hit in hits])
    assert all(demand.at(whole) <= 1 + 1e-9 for demand in motion.demands(touches))
    assert step.route.ceiling_bpm >= brief.tempo - 1e-6


def check_step(step: Step, brief: Brief) -> None:
    span, hits = step.fill.span, step.fill.hits
    assert span.end == brief.bars * brief.meter.bar, "a fill ends with the phrase"
    hands = [hit for hit in hits if not hit.stroke.hand.is_foot]
    assert min(hit.at for hit in hits) >= 0
    assert max(hit.at + hit.length for hit in hits) <= span.length
    if step.kind is not StepKind.KICK:
        assert hands[0].stroke.hand is brief.lead
        assert step.lands is hands[-1].stroke.hand.other
    assert max(Counter((hit.at, hit.stroke.hand) for hit in hits).values()) == 1
    assert len({hit.at for hit in hands}) == len(hands)
    check_cymbals(hits)
    for groove in grooves_in(brief.meter.name)[:2]:
        assert all(in_its_phrase(step.fill, step.lands, groove, brief.bars))


def check_cymbals(hits: tuple[Hit, ...]) -> None:
    """A crash in a fill is doubled by the kick at the same instant, a plain accent."""
    crashes = {hit.at: hit.stroke for hit in hits if hit.surface.name in DOUBLED}
    assert set(crashes) <= {hit.at for hit in hits if hit.surface.name == "kick"}
    assert all(s == Stroke(hand=s.hand, level=Level.ACCENT) for s in crashes.values())


@settings(deadline=None, max_examples=120)
@given(st.sampled_from(load_rudiments()), METERS, HANDS, st.sampled_from(load_rudiments()))
def test_every_step_of_every_rudiment_in_every_meter(
    figure: Figure, where: Meter, lead: Limb, other: Figure
) -> None:
    brief = Brief(
        figure=figure,
        meter=where,
        bars=2,
        lead=lead,
        earlier=(other,),
        player=find_player("professional"),
        tempo=SLOWEST,
    )
    made = asked_for(brief)
    if made is None:
        assert not fit_rhythms(figure, where)
        return
    whole = [
        b for read in fit_rhythms(figure, where) for b in find_fitting_beats(read, where) if b.denominator == 1
    ]
    assert bool(made.steps) == bool(whole)
    told = {kind for kind in TEACHING_ORDER for sentence in made.left_out if f", {kind.value}:" in sentence}
    assert not told & {step.kind for step in made.steps}, "a step is made or left out, not both"
    for step in made.steps:
        check_step(step, brief)
        if step.mixed_with is None and step.kind not in (StepKind.CYMBALS, StepKind.ACCENTS, StepKind.KICK):
            turns = sum(1 for hit in step.fill.hits) // figure.main_strokes
            same = repeat_figure(figure, step.rhythm, turns, lead)
            assert [p.stroke for p in same.place_strokes()] == [hit.stroke for hit in step.fill.hits]


@given(figures, METERS)
def test_rhythms_in_a_meter_keep_the_proportions_of_their_strokes(figure: Figure, where: Meter) -> None:
    own = {shape(read) for read in figure.rhythms}
    held = fit_rhythms(figure, where)
    assert {shape(read) for read in held} <= own
    assert len({read.lengths for read in held}) == len(held) or not where.counts_eighths
    assert all(read.name == name_rhythm(read.lengths).name for read in held)


def shape(read: Rhythm) -> tuple[Fraction, ...]:
    return tuple(length / read.lengths[0] for length in read.lengths)
