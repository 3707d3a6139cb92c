import random
import re
from dataclasses import replace
from fractions import Fraction

import pytest
from lxml import etree

from fillwright.lesson.file import demo_text, parse_lesson
from fillwright.lesson.fills import contents
from fillwright.listen.alignment.model import Match, Matched, Outcome, Pass
from fillwright.listen.onset_list import Heard, Onset
from fillwright.listen.report.build import build_report
from fillwright.listen.written import of_phrase
from fillwright.pack.phrase_file import FileFill
from fillwright.score.engraving.engrave import engrave
from fillwright.score.export.midi import encode_midi
from fillwright.score.parts.midi_notes import default_pads
from fillwright.take.marks import LEFT, PER_MM
from fillwright.take.midi import read_written_midi
from fillwright.take.notes import find_note_ids, build_phrase, build_sheet
from fillwright.take.picture import WIDTH_MM, draw_take
from fillwright.take.reference import Reference

TEMPO = 80.0
LESSON = parse_lesson(demo_text())
FILLS = contents(LESSON).fills
FLAMS = next(fill for fill in FILLS if fill.step.figure.name == "flam accent")


def against(fill):
    listed = FileFill(
        number=fill.number,
        slug=fill.slug,
        title=fill.title,
        caption=fill.caption,
        tempos=fill.ladder,
        feel=LESSON.feel,
        phrase=fill.phrase,
        cue=fill.sheet.cue,
    )
    expected = of_phrase(fill.phrase, TEMPO, LESSON.feel)
    return Reference(
        title=fill.title, expected=expected, meter=fill.phrase.meter, ladder=fill.ladder, fill=listed
    )


def told(what, *, lag=lambda _stroke: 0.0, missing=(), extra=(), turns=1):
    """The report on a take with these lags in milliseconds, strokes left out and strokes added."""
    expected = what.expected
    passes = []
    for turn in range(turns):
        start = 1.0 + 20 * turn
        strokes = []
        for number, stroke in enumerate(expected.strokes):
            place = start + stroke.seconds
            ms = lag(stroke)
            done = {"outcome": Outcome.PLAYED, "played_seconds": place + ms / 1000, "lag_ms": ms}
            if number in missing:
                done = {"outcome": Outcome.MISSING}
            strokes.append(Matched(written=number, expected_seconds=place, **done))
        passes.append(
            Pass(
                start_seconds=start,
                strokes=tuple(strokes),
                bar_starts=tuple(start + at for at in expected.bar_starts),
                groove_tempo=expected.tempo,
            )
        )
    onsets = tuple(Onset(seconds=at, strength_db=9.0, level_db=-9.0) for at in extra)
    heard = Heard(onsets=onsets, seconds=30.0)
    match = Match(passes=tuple(passes), extra=tuple(range(len(onsets))), share_matched=1.0)
    return build_report(expected, heard, match)


def svg(drawing):
    return etree.fromstring(drawing.svg.encode("utf-8"))


def ticks(drawing):
    """Middle and width of every heavy tick of the ruler: place across, in the drawing's units."""
    heavy = drawing.iterfind(".//{*}path[@stroke-width='44']")
    return sorted(float(re.match(r"M(-?\d+)", tick.get("d"))[1]) for tick in heavy)


class TestNotes:
    @pytest.mark.parametrize("fill", FILLS, ids=lambda fill: fill.slug)
    def test_every_stroke_of_the_demo_has_its_note(self, fill):
        what = against(fill)
        sheet = build_sheet(what)
        ids = find_note_ids(sheet, what.expected)
        assert all(ids)
        for stroke, note in zip(what.expected.strokes, ids, strict=True):
            bar, over, under, grace = re.fullmatch(r"b(\d+)[hf](\d+)-(\d+)(g\d)?", note).groups()
            assert int(bar) == stroke.bar + 1
            assert (grace is not None) == (stroke.grace_of is not None)
            if grace is None and fill.groove != "shuffle":
                at = Fraction(int(over), int(under)) * 4 * 60 / Fraction(TEMPO)
                assert float(at) == pytest.approx(stroke.seconds - what.expected.bar_starts[stroke.bar])

    def test_all_of_them_are_drawn(self):
        what = against(FLAMS)
        sheet = build_sheet(what)
        drawn = {g.get("id") for g in etree.fromstring(engrave(sheet).svg.encode()).iter("{*}g")}
        assert set(find_note_ids(sheet, what.expected)) <= drawn

    def test_the_fill_starts_a_line_of_its_own(self):
        assert build_sheet(against(FLAMS)).break_before == (4,)

    def test_a_midi_file_becomes_notes_again(self):
        made = read_written_midi(encode_midi(FLAMS.phrase, 80), "it", default_pads())
        again = build_phrase(made.expected, made.meter)
        assert [(h.at, h.surface.name, h.stroke.kind) for h in again.hits()] == [
            (h.at, h.surface.name, h.stroke.kind) for h in FLAMS.phrase.hits()
        ]
        what = Reference(title="it", expected=made.expected, meter=made.meter)
        assert all(find_note_ids(build_sheet(what), what.expected))

    def test_what_lies_on_no_grid_has_no_notes(self):
        source = random.Random(1)
        made = against(FLAMS)
        strokes = tuple(
            replace(s, seconds=s.seconds + source.uniform(0.02, 0.04)) for s in made.expected.strokes
        )
        odd = replace(made, expected=replace(made.expected, strokes=strokes), fill=None)
        assert build_sheet(odd) is None


class TestPicture:
    def test_a_tick_lies_its_lag_from_its_note(self):
        what = against(FLAMS)
        exact = ticks(svg(draw_take(told(what), what).whole))
        late = ticks(svg(draw_take(told(what, lag=lambda _stroke: 8.0), what).whole))
        mains = sum(stroke.grace_of is None for stroke in what.expected.strokes)
        assert len(exact) == len(late) == mains + 1  # the legend has one
        moved = [after - before for before, after in zip(exact, late, strict=True)]
        assert moved[0] == 0
        assert moved[1:] == pytest.approx([8.0 / 4.0 * PER_MM] * mains, abs=1)

    def test_early_lies_left(self):
        what = against(FLAMS)
        exact = ticks(svg(draw_take(told(what), what).whole))
        early = ticks(svg(draw_take(told(what, lag=lambda _stroke: -8.0), what).whole))
        assert all(after < before for before, after in zip(exact[1:], early[1:], strict=True))

    def test_what_is_missing_is_hollow(self):
        what = against(FLAMS)
        rings = svg(draw_take(told(what, missing={4, 6}), what).whole).findall(".//{*}circle[@r='105']")
        assert len(rings) == 3  # one of them in the legend
        assert {ring.get("fill") for ring in rings} == {"#ffffff"}

    def test_what_is_not_written_has_a_wedge_each(self):
        what = against(FLAMS)
        text = draw_take(told(what, extra=(2.1, 5.0, 11.0)), what).whole.svg
        assert len(re.findall(r'd="M-?\d+ -?\d+ L-?\d+ -?\d+ L-?\d+ -?\d+ Z"', text)) == 4
        assert "a stroke that is not written" in text

    def test_the_left_hand_is_dashed(self):
        what = against(FLAMS)
        drawing = svg(draw_take(told(what, lag=lambda _stroke: 12.0), what).whole)
        lines = drawing.findall(f".//{{*}}path[@stroke='{LEFT}'][@stroke-width='26']")
        assert len(lines) > 4
        assert all(line.get("stroke-dasharray") for line in lines)

    def test_nothing_reaches_over_the_page(self):
        what = against(FLAMS)
        drawn = draw_take(told(what, lag=lambda _stroke: 15.0, turns=3), what)
        inner = svg(drawn.whole).find("{*}svg")
        _, _, width, height = map(float, inner.get("viewBox").split())
        assert width == WIDTH_MM * PER_MM
        assert drawn.whole.height_mm == pytest.approx(height / PER_MM)
        for text in inner.iter("{*}text"):
            assert 0 <= float(text.get("x")) <= width

    def test_parts_hold_what_the_whole_holds(self):
        what = against(FLAMS)
        drawn = draw_take(told(what), what)
        assert len(drawn.parts) == 3  # two lines of music and the charts
        whole = ticks(svg(drawn.whole))
        assert sorted(tick for part in drawn.parts for tick in ticks(svg(part))) == whole

    def test_a_refused_take_has_the_music_alone(self):
        what = against(FLAMS)
        said = build_report(what.expected, Heard(onsets=(), seconds=3.0), Match(passes=(), refused="silence"))
        drawn = draw_take(said, what)
        assert len(drawn.parts) == 2
        assert not ticks(svg(drawn.whole))

    def test_without_notes_there_are_still_the_charts(self):
        what = replace(against(FLAMS), fill=None, meter=None)
        drawn = draw_take(told(what), what)
        assert "Tempo by bar" in drawn.whole.svg
        assert len(drawn.parts) == 1

    def test_a_phrase_without_a_fill_has_no_chart_of_one(self):
        what = against(FLAMS)
        strokes = tuple(replace(stroke, in_fill=False) for stroke in what.expected.strokes)
        groove = replace(what, expected=replace(what.expected, strokes=strokes))
        assert "Strokes of the fill" in draw_take(told(what), what).whole.svg
        assert "Strokes of the fill" not in draw_take(told(groove), groove).whole.svg
