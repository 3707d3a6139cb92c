"""What holds for every phrase on paper: bars fill exactly, every hit is there once, nothing crosses a beat."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from functools import cache
from itertools import groupby, pairwise

from hypothesis import given
from hypothesis import strategies as st

from fillwright.craft.chains.chain import fill_span, find_fitting_beats
from fillwright.craft.chains.readings import fit_rhythms
from fillwright.music.figure import Rhythm
from fillwright.music.grooves import load_grooves
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter, find_meter, list_meters
from fillwright.music.phrase import Bar, Fill, Part, Phrase, build_landing, build_phrase, locate_last_beats
from fillwright.music.rudiments import find_figure, load_rudiments
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.score.beams import spell_beams
from fillwright.score.transcribe import transcribe
from fillwright.score.written import Note, Rest, Tuplet, Voice, WrittenBar

GRIDS = {Fraction(1, 4): (1, 2, 3, 4, 6, 8, 12), Fraction(3, 8): (1, 3, 6, 12)}
"""Even parts of a beat that can be written, by the length of the beat."""

hand_strokes = st.builds(
    Stroke,
    hand=st.sampled_from([Limb.RIGHT, Limb.LEFT]),
    kind=st.sampled_from(Kind),
    level=st.sampled_from(Level),
)
by_hand = st.sampled_from(["snare", "rim", "high tom", "floor tom", "hi-hat", "open hi-hat", "china"]).map(
    find_surface
)
by_foot = st.sampled_from(["kick", "foot hi-hat"]).map(find_surface)


@st.composite
def random_bars(draw: st.DrawFn, where: Meter) -> Bar:
    """Return a bar with any strokes on an even grid in each beat, each lasting any number of places."""
    hits: dict[tuple[Fraction, str], Hit] = {}
    for start, length in zip(where.beat_starts, where.beats, strict=True):
        parts = draw(st.sampled_from(GRIDS[length]))
        step = length / parts
        for number in range(parts):
            for struck, chance in ((draw(by_hand), 2), (draw(by_foot), 4)):
                if draw(st.integers(1, chance)) > 1:
                    continue
                lasts = step * draw(st.integers(1, parts + 2))
                stroke = Stroke(hand=struck.foot) if struck.foot else draw(hand_strokes)
                hit = Hit(at=start + number * step, length=lasts, stroke=stroke, surface=struck)
                hits[hit.at, struck.name] = hit
    return Bar(part=draw(st.sampled_from(Part)), hits=tuple(sorted(hits.values(), key=Hit.order)))


@st.composite
def random_phrases(draw: st.DrawFn) -> Phrase:
    where = find_meter(draw(st.sampled_from(list_meters())))
    return Phrase(meter=where, bars=tuple(draw(random_bars(where)) for _ in range(draw(st.integers(1, 2)))))


@cache
def spans_of(name: str, meter_name: str) -> tuple[tuple[Rhythm, Fraction], ...]:
    """Return the rhythms of a figure with the beats of two bars that each fills."""
    figure, where = find_figure(name), find_meter(meter_name)
    return tuple(
        (r, beats) for r in fit_rhythms(figure, where) for beats in find_fitting_beats(r, where, bars=2)
    )


@st.composite
def lesson_phrases(draw: st.DrawFn) -> Phrase:
    """Return a rudiment over any span that it fills, in any groove."""
    groove = draw(st.sampled_from(load_grooves()))
    figure = draw(st.sampled_from(load_rudiments()))
    choices = spans_of(figure.name, groove.meter.name)
    land = build_landing(groove.meter, Limb.RIGHT)
    if not choices:
        return build_phrase(groove, None, bars=2, land=land)
    rhythm, beats = draw(st.sampled_from(choices))
    span = locate_last_beats(groove.meter, 2, beats)
    chain = fill_span(figure, rhythm, span, groove.meter, lead=draw(st.sampled_from([Limb.RIGHT, Limb.LEFT])))
    return build_phrase(groove, Fill(span=span, hits=chain.hits()), bars=2, land=land)


phrases = st.one_of(random_phrases(), lesson_phrases())


def voices(bar: WrittenBar) -> tuple[Voice, Voice]:
    return bar.hands, bar.feet


def on_paper(item: Note | Rest) -> Fraction:
    """Return a note value with its dot, in whole notes."""
    return Fraction(1, item.value) * (Fraction(3, 2) if item.dots else 1)


def tuplets(voice: Voice) -> list[Tuplet]:
    return [item for beat in voice.beats for item in beat if isinstance(item, Tuplet)]


def plain_items(voice: Voice) -> list[Note | Rest]:
    return [item for beat in voice.beats for item in beat if not isinstance(item, Tuplet)]


def is_whole_bar_rest(voice: Voice) -> bool:
    return not any(voice.notes())


def sounding(bar: WrittenBar, where: Meter, *, feet: bool) -> dict[Fraction, Fraction]:
    """Measure strokes at each place: their length, up to the next of the voice or the end of the beat."""
    hits = [hit for hit in bar.bar.hits if hit.stroke.hand.is_foot == feet]
    ends = [start + length for start, length in zip(where.beat_starts, where.beats, strict=True)]
    stops = sorted({*ends, *(hit.at for hit in hits)})
    lasts: dict[Fraction, Fraction] = {}
    for hit in hits:
        lasts[hit.at] = max(hit.length, lasts.get(hit.at, Fraction(0)))
    return {at: min(length, next(stop for stop in stops if stop > at) - at) for at, length in lasts.items()}


@given(phrases, st.booleans())
def test_every_voice_fills_its_bar_without_gap_or_overlap(music: Phrase, short_rolls: bool) -> None:
    for bar in transcribe(music, short_rolls=short_rolls):
        for voice in voices(bar):
            items = list(voice.items())
            assert items[0].at == 0
            assert all(item.at + item.length == following.at for item, following in pairwise(items))
            assert items[-1].at + items[-1].length == music.meter.bar


@given(phrases)
def test_every_hit_is_on_paper_once_at_its_place(music: Phrase) -> None:
    for bar in transcribe(music):
        for voice, feet in ((bar.hands, False), (bar.feet, True)):
            heads = Counter((note.at, hit) for note in voice.notes() for hit in note.hits)
            assert heads == Counter((hit.at, hit) for hit in bar.bar.hits if hit.stroke.hand.is_foot == feet)
            for note in voice.notes():
                locs = [hit.surface.loc for hit in note.hits]
                assert locs == sorted(locs), "heads stand from the lowest up"


@given(phrases)
def test_note_values_are_as_long_as_they_last(music: Phrase) -> None:
    for bar in transcribe(music):
        for voice in voices(bar):
            if is_whole_bar_rest(voice):
                continue
            assert all(on_paper(item) == item.length for item in plain_items(voice))


@given(phrases)
def test_tuplets_are_filled_by_their_items(music: Phrase) -> None:
    for bar in transcribe(music):
        for voice in voices(bar):
            for tuplet in tuplets(voice):
                assert sum(map(on_paper, tuplet.items)) == Fraction(tuplet.actual, tuplet.value)
                assert sum(item.length for item in tuplet.items) == Fraction(tuplet.normal, tuplet.value)
                ratio = Fraction(tuplet.normal, tuplet.actual)
                assert all(item.length == on_paper(item) * ratio for item in tuplet.items)
                assert any(isinstance(item, Note) for item in tuplet.items), "a tuplet of rests alone is a rest"


@given(phrases, st.booleans())
def test_no_note_crosses_a_beat(music: Phrase, short_rolls: bool) -> None:
    starts, where = music.meter.beat_starts, music.meter
    ends = [start + length for start, length in zip(starts, where.beats, strict=True)]
    for bar in transcribe(music, short_rolls=short_rolls):
        for voice in voices(bar):
            for note in voice.notes():
                assert note.at + note.length <= next(end for end in ends if end > note.at)


@given(phrases, st.booleans())
def test_ids_are_unique_on_the_page(music: Phrase, short_rolls: bool) -> None:
    bars = transcribe(music, short_rolls=short_rolls)
    ids = [note.id for bar in bars for voice in voices(bar) for note in voice.notes()]
    assert len(ids) == len(set(ids))


@given(phrases)
def test_rests_are_where_nothing_sounds(music: Phrase) -> None:
    """Check that a rest cuts a stroke short only where no note value lasts as long, and by less than half."""
    for bar in transcribe(music):
        for voice, feet in ((bar.hands, False), (bar.feet, True)):
            lasts = sounding(bar, music.meter, feet=feet)
            scales = {item: Fraction(1) for item in plain_items(voice)}
            scales |= {i: Fraction(t.actual, t.normal) for t in tuplets(voice) for i in t.items}
            for note in voice.notes():
                wanted = lasts[note.at] * scales[note]
                if wanted.numerator in (1, 3):
                    assert note.length == lasts[note.at]
                else:
                    assert lasts[note.at] / 2 < note.length < lasts[note.at]
            for rest in (item for item in voice.items() if isinstance(item, Rest)):
                assert not any(rest.at <= at < rest.at + rest.length for at in lasts)
                assert rest.hidden == feet


@given(lesson_phrases())
def test_abbreviated_rolls_keep_every_stroke(music: Phrase) -> None:
    """Check that a note with strokes through its stem means the thirty-seconds it lasts."""
    for plain, short in zip(transcribe(music), transcribe(music, short_rolls=True), strict=True):
        strokes = sum(len(note.hits) for note in plain.hands.notes())
        shortened = sum(
            note.length * 32 if note.slashes else Fraction(len(note.hits)) for note in short.hands.notes()
        )
        assert shortened == strokes
        assert plain.feet == short.feet


@given(phrases)
def test_beams_are_as_many_as_the_note_value_asks_and_come_in_pairs(music: Phrase) -> None:
    for bar in transcribe(music):
        for voice in voices(bar):
            made = spell_beams(voice)
            notes = list(voice.notes())
            assert all(len(made.get(n.id, ())) in (0, n.value.bit_length() - 3) for n in notes)
            for level in range(5):
                words = [made[n.id][level] for n in notes if len(made.get(n.id, ())) > level]
                joined = [word for word in words if "hook" not in word]
                assert [word for word, _ in groupby(w for w in joined if w != "continue")] == (
                    ["begin", "end"] * joined.count("begin")
                )
                if level == 0:
                    assert words == joined, "an eighth's beam joins two notes"
