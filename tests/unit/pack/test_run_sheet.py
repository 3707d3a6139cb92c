import io
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.music.rudiments import load_rudiments
from fillwright.pack.run_sheet import (
    format_chapters,
    format_clock,
    format_precise,
    plan_demonstrations,
    sum_seconds,
    typeset_run_sheet,
)

BEATS = {
    "straight eighths": 4,
    "waltz": 3,
    "five-four": 5,
    "six-eight": 2,
    "nine-eight": 3,
    "slow twelve-eight": 4,
    "seven-eight": Fraction(7, 2),
}
"""Beats that a tempo counts in a bar: dotted quarters in 6/8, 9/8 and 12/8, else quarters (common practice)."""

HEAD = 'number = 4\ntitle = "Runs"\n'
OWN = '[[figure]]\nname = "{}"\nsticking = "R L R L R L"\nrhythm = "8"\nsteps = ["whole bar"]\n'


def shown(text):
    lesson = parse_lesson(text)
    return lesson, plan_demonstrations(build_fills(lesson).fills)


@pytest.fixture(scope="module")
def demo():
    return shown(read_demo_text())


@pytest.fixture(scope="module")
def long():
    """Every rudiment through every step at a slow tempo: hours of it."""
    rows = "".join(f'[[figure]]\nname = "{figure.name}"\n' for figure in load_rudiments())
    return shown(HEAD + 'tempo = "33..180 step 49"\n' + rows)


def fills_of(rows):
    return list({row.fill.number: row.fill for row in rows}.values())


def text_of(pdf):
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


class TestLengths:
    @pytest.mark.parametrize("groove", BEATS)
    @pytest.mark.parametrize("bars", [1, 3])
    @pytest.mark.parametrize("landing", [0, 1])
    def test_count_in_bars_and_landing_at_that_tempo(self, groove, bars, landing):
        land = "" if landing else "landing = []\n"
        figure = '[[figure]]\nname = "eighths"\nsticking = "R"\nrhythm = "8"\nsteps = ["whole bar"]\n'
        _, rows = shown(f'{HEAD}tempo = [47, 61, 73]\nbars = {bars}\ngroove = "{groove}"\n{land}{figure}')
        slow, fast = rows
        for row, tempo in ((slow, 47), (fast, 73)):
            assert row.tempo == tempo
            assert row.bars == bars + landing
            assert row.length_seconds == (1 + bars + landing) * BEATS[groove] * Fraction(60, tempo)
        assert (slow.start_seconds, fast.start_seconds) == (0, slow.length_seconds)

    def test_one_tempo_is_shown_once(self):
        _, rows = shown(HEAD + "tempo = 90\n" + OWN.format("x"))
        assert [row.tempo for row in rows] == [90]

    def test_a_lesson_in_several_meters(self):
        grooves = ("waltz", "six-eight", "nine-eight")
        rows = "".join(
            OWN.format(f"x {groove}").replace("R L R L R L", "R L R") + f'groove = "{groove}"\n'
            for groove in grooves
        )
        _, rows = shown(HEAD + "tempo = [50, 110]\n" + rows)
        start = Fraction(0)
        for row, (groove, tempo) in zip(rows, [(g, t) for g in grooves for t in (50, 110)], strict=True):
            assert (row.fill.groove, row.tempo, row.start_seconds) == (groove, tempo, start)
            start += 6 * BEATS[groove] * Fraction(60, tempo)
        assert sum_seconds(rows) == start

    def test_the_demo(self, demo):
        lesson, rows = demo
        assert lesson.tempo[::3] == (60, 90)
        # each fill is a count-in bar, four bars and the landing's, 24 beats: at 60 and as fast as it is taught
        fastest = [row.fill.ladder[-1] for row in rows if row.tempo == 60]
        assert len(fastest) == 46
        assert {60, 70, 80, 90} == set(fastest)
        assert len(rows) == 46 + sum(tempo > 60 for tempo in fastest)
        assert sum_seconds(rows) == 46 * 24 + sum(Fraction(24 * 60, t) for t in fastest if t > 60)
        assert [row.start_seconds for row in rows[:4]] == [0, 24, 40, 64]

    def test_no_fill_is_shown_faster_than_its_player_can_reach(self, demo):
        _, rows = demo
        assert all(row.tempo <= row.fill.step.route.ceiling_bpm for row in rows)

    def test_nothing_to_show_takes_no_time(self):
        assert sum_seconds(()) == 0


class TestChapters:
    @pytest.mark.parametrize("which", ["demo", "long"])
    def test_a_line_for_every_fill_ascending_from_zero(self, which, request):
        _, rows = request.getfixturevalue(which)
        lines = format_chapters(rows).splitlines()
        fills = list(dict.fromkeys(row.fill.number for row in rows))
        assert len(lines) == len(fills)
        assert lines[0].startswith("00:00 ")
        seconds = []
        for line, number in zip(lines, fills, strict=True):
            time, title = line.split(" ", 1)
            assert re.fullmatch(r"(\d+:)?[0-5]\d:[0-5]\d", time)
            first = next(row for row in rows if row.fill.number == number)
            assert title == first.fill.chapter
            *hours, minutes, rest = map(int, time.split(":"))
            seconds.append(3600 * sum(hours) + 60 * minutes + rest)
            assert 0 <= first.start_seconds - seconds[-1] < 1
        assert seconds == sorted(set(seconds))

    def test_hours_stand_in_front_from_an_hour_on(self, long):
        _, rows = long
        assert sum_seconds(rows) > 3600
        times = [line.split()[0] for line in format_chapters(rows).splitlines()]
        kinds = [time.count(":") for time in times]
        assert kinds == sorted(kinds)
        assert set(kinds) == {1, 2}

    def test_they_end_with_a_line_break(self, demo):
        assert format_chapters(demo[1]).endswith("\n")
        assert "\n\n" not in format_chapters(demo[1])


class TestWords:
    @given(st.fractions(min_value=0, max_value=20_000))
    def test_a_clock_reads_back_to_the_second_below(self, seconds):
        *hours, minutes, rest = map(int, format_clock(seconds).split(":"))
        assert 3600 * sum(hours) + 60 * minutes + rest == seconds // 1
        assert rest < 60
        assert minutes < 60

    @given(st.fractions(min_value=0, max_value=20_000))
    def test_a_precise_time_reads_back_to_half_a_thousandth(self, seconds):
        minutes, rest = format_precise(seconds).split(":")
        assert re.fullmatch(r"[0-5]\d\.\d{3}", rest)
        assert abs(60 * int(minutes) + Fraction(rest) - seconds) <= Fraction(1, 2000)

    @pytest.mark.parametrize(
        ("seconds", "text"),
        [(Fraction(599_999_6, 100_000), "1:00.000"), (Fraction(3599_9996, 10_000), "60:00.000")],
    )
    def test_a_rounded_minute_is_a_whole_one(self, seconds, text):
        assert format_precise(seconds) == text


class TestPage:
    def test_it_says_every_row_and_the_total(self, demo):
        lesson, rows = demo
        text = " ".join(text_of(typeset_run_sheet(lesson, fills_of(rows))).split())
        text = text.replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
        assert "Run sheet: Nine figures round the kit" in text
        assert f"{len(rows)} demonstrations, {format_precise(sum_seconds(rows))} in all" in text
        place = 0
        for row in rows:
            start, length = format_precise(row.start_seconds), format_precise(row.length_seconds)
            wanted = f"{start} {row.fill.number} {row.fill.title} {row.tempo} 1 + 5 {length}"
            place = text.index(wanted, place) + len(wanted)

    def test_hours_of_it_fill_many_pages(self, long):
        lesson, rows = long
        pages = PdfReader(io.BytesIO(typeset_run_sheet(lesson, fills_of(rows)))).pages
        assert len(pages) > 10
        for page in pages[:-1]:
            assert "Start Fill Play bpm" in " ".join(page.extract_text().split()), (
                "each page has its heading row"
            )

    def test_it_is_the_same_bytes_every_time(self, demo):
        lesson, rows = demo
        fills = fills_of(rows)[:2]
        assert typeset_run_sheet(lesson, fills) == typeset_run_sheet(lesson, fills)
