"""What holds for any groove, fill and phrase: mirrors, bars, the groove round the fill, and seconds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import ulp

from hypothesis import given
from hypothesis import strategies as st

from fillwright.music.figure import Figure
from fillwright.music.grooves import load_grooves
from fillwright.music.hit import Hit, mirror_hits
from fillwright.music.meter import Meter
from fillwright.music.phrase import Fill, Part, Phrase, Span, build_landing, build_phrase, locate_last_beats
from fillwright.music.rudiments import load_rudiments
from fillwright.music.stroke import Kind, Level, Limb, Stroke, mirror
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import Feel, TimedHit, time_phrase, whole_note_seconds

STEPS = [Fraction(1, n) for n in (4, 8, 12, 16, 24, 32)]
HANDS = st.sampled_from([Limb.RIGHT, Limb.LEFT])
tempos = st.integers(20, 400)
swings = st.fractions(Fraction(1, 2), Fraction(3, 4), max_denominator=12)
feels = st.builds(Feel, swing=swings, flam_ms=st.floats(5, 80))

stroke_of_hands = st.builds(Stroke, hand=HANDS, kind=st.sampled_from(Kind), level=st.sampled_from(Level))
drums = st.sampled_from(["snare", "high tom", "floor tom", "crash", "ride bell"]).map(find_surface)


@st.composite
def fills(draw: st.DrawFn, meter: Meter, bars: int) -> Fill:
    """A fill at the end of a phrase: a stroke, a kick or a rest at each place of an even subdivision."""
    halves = draw(st.integers(1, 2 * bars * len(meter.beats)))
    span = locate_last_beats(meter, bars, Fraction(halves, 2))
    step = draw(st.sampled_from(STEPS))
    hits = []
    for place in range(int(-(-span.length // step))):
        at = place * step
        length = min(step, span.length - at)
        if draw(st.booleans()):
            hits.append(Hit(at=at, length=length, stroke=draw(stroke_of_hands), surface=draw(drums)))
        if draw(st.integers(0, 4)) == 0:
            kick = Stroke(hand=Limb.RIGHT_FOOT)
            hits.append(Hit(at=at, length=length, stroke=kick, surface=find_surface("kick")))
    return Fill(span=span, hits=tuple(hits))


@st.composite
def phrases(draw: st.DrawFn) -> Phrase:
    groove = draw(st.sampled_from(load_grooves()))
    bars = draw(st.integers(1, 4))
    fill = draw(st.one_of(st.none(), fills(groove.meter, bars)))
    land = draw(st.sampled_from([(), build_landing(groove.meter, draw(HANDS))]))
    return build_phrase(groove, fill, bars=bars, land=land)


@given(st.sampled_from(load_rudiments()), HANDS)
def test_a_figure_led_from_one_side_mirrors_the_other(figure: Figure, lead: Limb) -> None:
    assert mirror(figure.lead_with(lead)) == figure.lead_with(lead.other)
    assert mirror(mirror(figure.strokes)) == figure.strokes


@given(st.data())
def test_mirroring_twice_changes_nothing(data: st.DataObject) -> None:
    groove = data.draw(st.sampled_from(load_grooves()))
    fill = data.draw(fills(groove.meter, 2))
    assert mirror_hits(mirror_hits(groove.hits)) == groove.hits
    assert fill.mirror().mirror() == fill
    whole = build_phrase(groove, fill, bars=2)
    assert whole.mirror().mirror() == whole
    assert [h.stroke.hand for h in whole.mirror().hits()] == [h.stroke.hand.other for h in whole.hits()]


@given(phrases())
def test_bars_hold_their_hits(made: Phrase) -> None:
    for bar in made.bars:
        places = [hit.at for hit in bar.hits]
        assert places == sorted(places)
        assert all(0 <= at < made.meter.bar for at in places)


@given(phrases())
def test_strokes_of_hands_and_of_feet_do_not_overlap(made: Phrase) -> None:
    voices: defaultdict[bool, list[Hit]] = defaultdict(list)
    for hit in made.hits():
        voices[hit.stroke.hand.is_foot].append(hit)
    for voice in voices.values():
        for hit in voice:
            later = [other.at for other in voice if other.at > hit.at]
            assert hit.length > 0
            assert hit.at + hit.length <= min(later, default=made.length)


@given(st.data())
def test_the_groove_plays_up_to_the_fill_and_not_inside_it(data: st.DataObject) -> None:
    groove = data.draw(st.sampled_from(load_grooves()))
    bars = data.draw(st.integers(1, 3))
    whole = bars * groove.meter.bar
    cuts = st.fractions(Fraction(0), whole, max_denominator=16)
    start, end = sorted(data.draw(st.tuples(cuts, cuts).filter(lambda pair: pair[0] != pair[1])))
    china = Hit(
        at=Fraction(0), length=end - start, stroke=Stroke(hand=Limb.RIGHT), surface=find_surface("china")
    )
    fill = Fill(span=Span(start=start, length=end - start), hits=(china,))
    made = build_phrase(groove, fill, bars=bars)
    played = [hit for hit in made.hits() if hit.surface.name != "china"]
    alone = [hit.shift(bar * groove.meter.bar) for bar in range(bars) for hit in groove.hits]
    assert not [hit for hit in played if made.is_in_fill(hit.at)]
    outside = [hit for hit in alone if not start <= hit.at < end]
    assert [replace(hit, length=Fraction(1)) for hit in played] == [
        replace(h, length=Fraction(1)) for h in outside
    ]
    assert all(hit.at + hit.length <= start for hit in played if hit.at < start)


@given(phrases())
def test_bars_of_fill_are_those_the_span_touches(made: Phrase) -> None:
    for number, bar in enumerate(made.bars):
        start = number * made.meter.bar
        touched = made.span is not None and made.span.start < start + made.meter.bar and start < made.span.end
        assert (bar.part is Part.FILL) == (touched and bar.part is not Part.LANDING)


@given(phrases(), tempos, feels)
def test_a_timeline_ascends_and_every_stroke_lasts(made: Phrase, tempo: int, feel: Feel) -> None:
    timed = time_phrase(made, tempo, feel)
    assert len(timed) == sum(len(bar.hits) for bar in made.bars)
    assert all(before.onset_seconds <= after.onset_seconds for before, after in pairwise(timed))
    assert all(t.length_seconds > 0 for t in timed)


@given(phrases(), tempos)
def test_straight_onsets_are_the_exact_ones_rounded_once(made: Phrase, tempo: int) -> None:
    for timed in time_phrase(made, tempo):
        exact = timed.hit.at * Fraction(60, tempo) / made.meter.tempo_unit
        assert abs(Fraction(timed.onset_seconds) - exact) <= 4 * Fraction(ulp(float(exact)))


@given(phrases(), tempos, feels)
def test_grace_notes_ascend_before_their_main_note(made: Phrase, tempo: int, feel: Feel) -> None:
    for timed in time_phrase(made, tempo, feel):
        assert len(timed.grace_seconds) == timed.hit.stroke.kind.graces
        notes = (*timed.grace_seconds, timed.onset_seconds)
        assert all(before < after for before, after in pairwise(notes))


def previous_stroke(timed: Iterable[TimedHit], now: TimedHit, hand: Limb) -> float | None:
    """The last stroke of a hand before one, its grace notes counted."""
    before = [
        at
        for other in timed
        if other.onset_seconds < now.onset_seconds
        for at in (
            (other.onset_seconds,)
            if other.hit.stroke.hand is hand
            else other.grace_seconds
            if other.hit.stroke.hand.other is hand
            else ()
        )
    ]
    return max(before, default=None)


@given(phrases(), tempos, feels)
def test_grace_notes_take_a_third_of_their_hands_gap_at_most(made: Phrase, tempo: int, feel: Feel) -> None:
    timed = time_phrase(made, tempo, feel)
    for now in timed:
        previous = previous_stroke(timed, now, now.hit.stroke.hand.other)
        if now.grace_seconds and previous is not None:
            gap = now.onset_seconds - previous
            assert now.onset_seconds - now.grace_seconds[0] <= gap / 3 + 1e-9


@given(phrases(), tempos, swings)
def test_swing_moves_only_the_second_eighth_of_plain_beats(made: Phrase, tempo: int, swing: Fraction) -> None:
    whole = whole_note_seconds(made.meter, tempo)
    quarter = Fraction(1, 4)
    parts: defaultdict[Fraction, set[Fraction]] = defaultdict(set)
    for hit in made.hits():
        parts[hit.at // quarter].add(hit.at % quarter)
    for timed in time_phrase(made, tempo, Feel(swing=swing)):
        at = timed.hit.at
        plain = parts[at // quarter] <= {Fraction(0), quarter / 2} and not made.meter.counts_eighths
        moved = plain and at % quarter == quarter / 2
        expected = at - quarter / 2 + swing / 4 if moved else at
        assert abs(timed.onset_seconds - float(expected) * whole) < 1e-9
