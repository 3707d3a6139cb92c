import random
import re
from dataclasses import replace
from fractions import Fraction

import pytest
from lxml import etree

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.listen.alignment.model import AlignedStroke, Alignment, Outcome, Repetition
from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.listen.report.build import build_report
from fillwright.listen.written import write_phrase
from fillwright.pack.phrase_file import FileFill
from fillwright.score.engraving.engrave import engrave
from fillwright.score.export.midi import encode_midi
from fillwright.score.parts.midi_notes import get_default_notes
from fillwright.take.marks import LEFT, PER_MM
from fillwright.take.midi import read_written_midi
from fillwright.take.notes import build_phrase, build_sheet, find_note_ids
from fillwright.take.picture import WIDTH_MM, draw_take
from fillwright.take.reference import Reference

TEMPO = 80.0
LESSON = parse_lesson(read_demo_text())
FILLS = build_fills(LESSON).fills
FLAMS = next(fill for fill in FILLS if fill.step.figure.name == "flam accent")


def reference_of(fill):
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
    expected = write_phrase(fill.phrase, TEMPO, LESSON.feel)
    return Reference(
        title=fill.title, expected=expected, meter=fill.phrase.meter, ladder=fill.ladder, fill=listed
    )


def report_on(reference, *, lag=lambda _stroke: 0.0, missing=(), extra=(), turns=1):
    """The report on a take with these lags in milliseconds, strokes left out and strokes added."""
    expected = reference.expected
    repetitions = []
    for turn in range(turns):
        start = 1.0 + 20 * turn
        strokes = []
        for number, stroke in enumerate(expected.strokes):
            place = start + stroke.seconds
            ms = lag(stroke)
            done = {"outcome": Outcome.PLAYED, "played_seconds": place + ms / 1000, "lag_ms": ms}
            if number in missing:
                done = {"outcome": Outcome.MISSING}
            strokes.append(AlignedStroke(written=number, expected_seconds=place, **done))
        repetitions.append(
            Repetition(
                start_seconds=start,
                strokes=tuple(strokes),
                bar_starts=tuple(start + at for at in expected.bar_starts),
                groove_tempo=expected.tempo,
            )
        )
    onsets = tuple(Onset(seconds=at, strength_db=9.0, loudness_db=-9.0) for at in extra)
    heard = DetectedTake(onsets=onsets, seconds=30.0)
    match = Alignment(repetitions=tuple(repetitions), extra=tuple(range(len(onsets))), share_matched=1.0)
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
        reference = reference_of(fill)
        sheet = build_sheet(reference)
        ids = find_note_ids(sheet, reference.expected)
        assert all(ids)
        for stroke, note in zip(reference.expected.strokes, ids, strict=True):
            bar, over, under, grace = re.fullmatch(r"b(\d+)[hf](\d+)-(\d+)(g\d)?", note).groups()
            assert int(bar) == stroke.bar + 1
            assert (grace is not None) == (stroke.grace_of is not None)
            if grace is None and fill.groove != "shuffle":
                at = Fraction(int(over), int(under)) * 4 * 60 / Fraction(TEMPO)
                assert float(at) == pytest.approx(stroke.seconds - reference.expected.bar_starts[stroke.bar])

    def test_all_of_them_are_drawn(self):
        reference = reference_of(FLAMS)
        sheet = build_sheet(reference)
        drawn = {g.get("id") for g in etree.fromstring(engrave(sheet).svg.encode()).iter("{*}g")}
        assert set(find_note_ids(sheet, reference.expected)) <= drawn

    def test_the_fill_starts_a_line_of_its_own(self):
        assert build_sheet(reference_of(FLAMS)).break_before == (4,)

    def test_a_midi_file_becomes_notes_again(self):
        made = read_written_midi(encode_midi(FLAMS.phrase, 80), "it", get_default_notes())
        again = build_phrase(made.expected, made.meter)
        assert [(h.at, h.surface.name, h.stroke.kind) for h in again.hits()] == [
            (h.at, h.surface.name, h.stroke.kind) for h in FLAMS.phrase.hits()
        ]
        reference = Reference(title="it", expected=made.expected, meter=made.meter)
        assert all(find_note_ids(build_sheet(reference), reference.expected))

    def test_strokes_off_the_grid_have_no_notes(self):
        source = random.Random(1)
        made = reference_of(FLAMS)
        strokes = tuple(
            replace(s, seconds=s.seconds + source.uniform(0.02, 0.04)) for s in made.expected.strokes
        )
        odd = replace(made, expected=replace(made.expected, strokes=strokes), fill=None)
        assert build_sheet(odd) is None


class TestPicture:
    def test_a_tick_lies_its_lag_from_its_note(self):
        reference = reference_of(FLAMS)
        exact = ticks(svg(draw_take(report_on(reference), reference).full))
        late = ticks(svg(draw_take(report_on(reference, lag=lambda _stroke: 8.0), reference).full))
        mains = sum(stroke.grace_of is None for stroke in reference.expected.strokes)
        assert len(exact) == len(late) == mains + 1  # the legend has one
        moved = [after - before for before, after in zip(exact, late, strict=True)]
        assert moved[0] == 0
        assert moved[1:] == pytest.approx([8.0 / 4.0 * PER_MM] * mains, abs=1)

    def test_early_lies_left(self):
        reference = reference_of(FLAMS)
        exact = ticks(svg(draw_take(report_on(reference), reference).full))
        early = ticks(svg(draw_take(report_on(reference, lag=lambda _stroke: -8.0), reference).full))
        assert all(after < before for before, after in zip(exact[1:], early[1:], strict=True))

    def test_a_missing_stroke_is_a_ring(self):
        reference = reference_of(FLAMS)
        rings = svg(draw_take(report_on(reference, missing={4, 6}), reference).full).findall(
            ".//{*}circle[@r='105']"
        )
        assert len(rings) == 3  # one of them in the legend
        assert {ring.get("fill") for ring in rings} == {"#ffffff"}

    def test_each_extra_stroke_has_a_wedge(self):
        reference = reference_of(FLAMS)
        text = draw_take(report_on(reference, extra=(2.1, 5.0, 11.0)), reference).full.svg
        assert len(re.findall(r'd="M-?\d+ -?\d+ L-?\d+ -?\d+ L-?\d+ -?\d+ Z"', text)) == 4
        assert ">extra<" in text

    def test_the_left_hand_is_dashed(self):
        reference = reference_of(FLAMS)
        drawing = svg(draw_take(report_on(reference, lag=lambda _stroke: 12.0), reference).full)
        lines = drawing.findall(f".//{{*}}path[@stroke='{LEFT}'][@stroke-width='26']")
        assert len(lines) > 4
        assert all(line.get("stroke-dasharray") for line in lines)

    def test_nothing_reaches_over_the_page(self):
        reference = reference_of(FLAMS)
        drawn = draw_take(report_on(reference, lag=lambda _stroke: 15.0, turns=3), reference)
        inner = svg(drawn.full).find("{*}svg")
        _, _, width, height = map(float, inner.get("viewBox").split())
        assert width == WIDTH_MM * PER_MM
        assert drawn.full.height_mm == pytest.approx(height / PER_MM)
        for text in inner.iter("{*}text"):
            assert 0 <= float(text.get("x")) <= width

    def test_parts_hold_what_the_whole_holds(self):
        reference = reference_of(FLAMS)
        drawn = draw_take(report_on(reference), reference)
        assert len(drawn.parts) == 3  # two lines of music and the charts
        whole = ticks(svg(drawn.full))
        assert sorted(tick for part in drawn.parts for tick in ticks(svg(part))) == whole

    def test_a_refused_take_has_the_music_alone(self):
        reference = reference_of(FLAMS)
        said = build_report(
            reference.expected,
            DetectedTake(onsets=(), seconds=3.0),
            Alignment(repetitions=(), refused="silence"),
        )
        drawn = draw_take(said, reference)
        assert len(drawn.parts) == 2
        assert not ticks(svg(drawn.full))

    def test_without_notes_there_are_still_the_charts(self):
        reference = replace(reference_of(FLAMS), fill=None, meter=None)
        drawn = draw_take(report_on(reference), reference)
        assert "Tempo by bar" in drawn.full.svg
        assert len(drawn.parts) == 1

    def test_a_phrase_without_a_fill_has_no_chart_of_one(self):
        reference = reference_of(FLAMS)
        strokes = tuple(replace(stroke, in_fill=False) for stroke in reference.expected.strokes)
        groove = replace(reference, expected=replace(reference.expected, strokes=strokes))
        assert "Strokes of the fill" in draw_take(report_on(reference), reference).full.svg
        assert "Strokes of the fill" not in draw_take(report_on(groove), groove).full.svg
