"""The graph of chains: refused spans and rules, and the readings that may follow at each place."""

from __future__ import annotations

from fractions import Fraction

import pytest

from fillwright.craft.chains.graph import Graph
from fillwright.craft.chains.readings import Reading
from fillwright.craft.chains.rules import FREE, Rules, Tail, TailKind
from fillwright.errors import FitError, SpanError, UnknownNameError
from fillwright.music.figure import Figure
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Span
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb

FOUR = find_meter("4/4")
BEAT = Span(start=Fraction(0), length=Fraction(1, 4))
R, L = Limb.RIGHT, Limb.LEFT


def turn(sticking: str, length: Fraction = Fraction(1, 16), *, lead: Limb = R, name: str = "") -> Reading:
    strokes = parse_sticking(sticking)
    figure = Figure(name=name or sticking, group="own", strokes=strokes, rhythms=())
    return Reading(figure=figure, lead=lead, lengths=(length,) * len(strokes))


def followers(graph: Graph, before: int) -> list[int]:
    """The readings that may follow the first reading of that number."""
    edge = next(edge for edge in graph.edges(0, None) if edge.reading == before)
    return [after.reading for after in graph.edges(edge.to, edge.hands)]


@pytest.mark.parametrize(
    ("start", "length", "why"),
    [
        ("0", "0", "A span of 0 whole notes can't be filled with chains"),
        ("0", "-1/4", "A span of -1/4 whole notes can't be filled with chains"),
        ("0", "129/16", "A span of 129/16 whole notes .* use more than 0 and at most 8 bars of 4/4"),
        ("1/5", "1", "starts 1/5 whole notes into its phrase"),
        ("-1/4", "1", "starts -1/4 whole notes into its phrase"),
    ],
)
def test_a_span_that_can_not_be_filled_is_refused(start: str, length: str, why: str) -> None:
    with pytest.raises(SpanError, match=why):
        Graph(Span(start=Fraction(start), length=Fraction(length)), FOUR, [turn("R")], FREE)


def test_a_span_of_eight_bars_is_taken() -> None:
    graph = Graph(Span(start=Fraction(0), length=Fraction(8)), FOUR, [turn("R")], FREE)
    assert graph.end == graph.units(Fraction(8))


@pytest.mark.parametrize("at", [Fraction(-1, 4), Fraction(1, 4)])
def test_an_accent_outside_the_span_is_refused(at: Fraction) -> None:
    with pytest.raises(FitError, match="is outside it; use 0 or more, below"):
        Graph(BEAT, FOUR, [turn("R>")], Rules(accents=(at,)))


def test_a_figure_that_must_appear_is_among_those_to_choose_from() -> None:
    found = [turn("R", name="one"), turn("R", name="two")]
    with pytest.raises(FitError, match="three is required, but it is not among the figures"):
        Graph(BEAT, FOUR, found, Rules(must=("three",)))
    with pytest.raises(FitError, match="two is required"):
        Graph(BEAT, FOUR, found, Rules(must=("two",), only=("one",)))


def test_only_figures_with_a_reading_can_be_chosen() -> None:
    with pytest.raises(UnknownNameError, match='did you mean "one"'):
        Graph(BEAT, FOUR, [turn("R", name="one")], Rules(only=("onee",)))
    graph = Graph(BEAT, FOUR, [turn("R", name="one"), turn("R", name="two")], Rules(only=("two",)))
    assert graph.figures == ("two",)


def test_a_reading_counts_once_and_without_hands_one_lead_stands_for_both() -> None:
    found = [turn("R"), turn("R", lead=L), turn("R")]
    assert len(Graph(BEAT, FOUR, found, FREE).readings) == 2
    assert len(Graph(BEAT, FOUR, found, Rules(hands=False)).readings) == 1


def test_hands_alternate_across_a_join() -> None:
    found = [turn("R L"), turn("R L", lead=L)]
    assert followers(Graph(BEAT, FOUR, found, Rules()), 0) == [0]
    assert followers(Graph(BEAT, FOUR, found, Rules()), 1) == [1]
    assert followers(Graph(BEAT, FOUR, found, FREE), 0) == [0, 1]


@pytest.mark.parametrize(("gap", "repeats"), [("1/16", True), ("1/8", True), ("3/16", False)])
def test_a_hand_may_repeat_where_the_gap_leaves_time(gap: str, repeats: bool) -> None:
    """R, a rest behind it, then R again: an eighth from stroke to stroke."""
    found = [turn("R -"), turn("R", lead=L)]
    assert (0 in followers(Graph(BEAT, FOUR, found, Rules(repeat_gap=Fraction(gap))), 0)) == repeats
    late = [turn("R"), turn("- R")]
    assert (1 in followers(Graph(BEAT, FOUR, late, Rules(repeat_gap=Fraction(gap))), 0)) == repeats


def test_the_lead_applies_to_the_first_reading_only() -> None:
    graph = Graph(BEAT, FOUR, [turn("R"), turn("R", lead=L)], Rules(lead=L))
    assert [edge.reading for edge in graph.edges(0, None)] == [1]
    assert followers(graph, 1) == [0]


def test_a_reading_longer_than_the_span_does_not_fit() -> None:
    assert Graph(BEAT, FOUR, [turn("R L R L R")], FREE).edges(0, None) == ()


def test_a_triplet_does_not_start_where_it_could_not_be_written() -> None:
    graph = Graph(BEAT, FOUR, [turn("R"), turn("R", Fraction(1, 12))], FREE)
    after_sixteenth, after_triplet = followers(graph, 0), followers(graph, 1)
    assert (after_sixteenth, after_triplet) == ([0], [1])


def test_a_required_accent_needs_an_accented_stroke() -> None:
    found = [turn("R>"), turn("R"), turn("R L>"), turn("- R>")]
    graph = Graph(BEAT, FOUR, found, Rules(accents=(Fraction(1, 16),)))
    assert [edge.reading for edge in graph.edges(0, None)] == [0, 1, 2, 3]
    graph = Graph(BEAT, FOUR, found, Rules(accents=(Fraction(0),)))
    assert [edge.reading for edge in graph.edges(0, None)] == [0]


def test_endings() -> None:
    rest = Tail(kind=TailKind.REST, length=Fraction(1, 16))
    kick = Tail(kind=TailKind.KICK, length=Fraction(1, 16))
    triplet = Tail(kind=TailKind.KICK, length=Fraction(1, 12))
    graph = Graph(BEAT, FOUR, [turn("R")], Rules(land=L, tails=(rest, kick, triplet)))
    last, behind = graph.end - graph.units(Fraction(1, 16)), graph.end - graph.units(Fraction(1, 12))
    assert graph.endings(graph.end, (R, 0)) == (None,)
    assert graph.endings(graph.end, (L, 0)) == ()  # the wrong hand would land
    assert graph.endings(graph.end, None) == ()  # nothing has been struck
    assert graph.endings(last, (R, 0)) == (0, 1)
    assert graph.endings(behind, (R, 0)) == (2,)
    assert graph.endings(graph.units(Fraction(1, 16)), (R, 0)) == ()


def test_a_tail_must_be_writable_and_never_takes_a_required_accent() -> None:
    triplet = Tail(kind=TailKind.REST, length=Fraction(1, 12))
    span = Span(start=Fraction(0), length=Fraction(13, 48))
    graph = Graph(span, FOUR, [turn("R")], Rules(tails=(triplet,)))
    assert graph.endings(graph.units(Fraction(3, 16)), (R, 0)) == ()
    sixteenth = Tail(kind=TailKind.REST, length=Fraction(1, 16))
    graph = Graph(BEAT, FOUR, [turn("R")], Rules(tails=(sixteenth,), accents=(Fraction(3, 16),)))
    assert graph.endings(graph.units(Fraction(3, 16)), (R, 0)) == ()


def test_nodes_come_in_order_of_time_each_once() -> None:
    graph = Graph(BEAT, FOUR, [turn("R", name="a"), turn("R L", name="b")], Rules(alternate=False, must=("b",)))
    nodes = graph.nodes(graph.needed)
    assert nodes[0] == (0, None, 1)
    assert [node[0] for node in nodes] == sorted(node[0] for node in nodes)
    assert len(set(nodes)) == len(nodes)
    assert {node[2] for node in nodes if node[0] == graph.end} == {0, 1}


def test_chains_may_be_limited_to_some_figures() -> None:
    graph = Graph(BEAT, FOUR, [turn("R", name="a"), turn("R L", name="b")], FREE)
    start = graph.nodes(())[0]
    assert [edge.figure for edge, _ in graph.steps(start, ())] == [0, 1]
    assert [edge.figure for edge, _ in graph.steps(start, (), frozenset({1}))] == [1]
