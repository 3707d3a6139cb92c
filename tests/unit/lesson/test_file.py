import os
from fractions import Fraction
from pathlib import Path

import pytest

from fillwright.craft.brief import TEACHING_ORDER, StepKind
from fillwright.craft.player.kits import find_kit
from fillwright.craft.steps import plan_steps
from fillwright.errors import TableError
from fillwright.lesson.file import parse_lesson, read_demo_text, read_lesson
from fillwright.music.rudiments import GROUPS, find_figure
from fillwright.music.stroke import Kind, Level, Limb
from fillwright.music.timing import Feel
from fillwright.sound.playalong.options import Click

HEAD = 'number = 1\ntitle = "Paradiddles"\n'
FIGURE = '[[figure]]\nname = "single paradiddle"\n'
OWN = '[[figure]]\nname = "answer"\nsticking = "{}"\nrhythm = "16"\n'

FULL = """
number = 7
title = "  Left hand\\n first "
series = "Kitchen Table Fills"
teacher = "Teodora Quillfeather"
purpose = "Let the left hand start."
groove = "Six-Eight"
tempo = [50, 60, 72]
bars = 2
steps = ["round the kit", "last beat"]
landing = ["crash", "second crash", "kick", "foot hi-hat"]
level = "gigging"
hand = "left"
kit = "open-handed"
per_step = 3
page = "letter"
audio = "flac"
click = false
swing = 0.667
flam_ms = 30.5
counting = false
rolls = "short"
notes = ["Slow first.", \"\"\"Then
faster.\"\"\"]
earlier = ["four-stroke ruff", "flam"]

[[figure]]
name = "paradiddle"
rhythm = "8"
groove = "straight eighths"
lead = "left"
steps = ["mixed", "whole bar"]
beats = [2, 4.0]
cue = "pa ra did -"

[[figure]]
name = "answer"
sticking = "L> - (R) llR"
rhythm = "4 8 8. 8."
alternates = false
"""


@pytest.fixture(scope="module")
def full():
    return parse_lesson(FULL)


@pytest.fixture(scope="module")
def demo():
    return parse_lesson(read_demo_text())


@pytest.fixture(scope="module")
def plans(demo):
    return [plan_steps(brief) for brief in demo.list_briefs()]


def one(text):
    """The only figure of a lesson."""
    (figure,) = parse_lesson(HEAD + text).figures
    return figure


class TestKeysOfTheLesson:
    def test_texts(self, full):
        told = (full.number, full.title, full.series, full.teacher, full.goal)
        assert told == (
            7,
            "Left hand first",
            "Kitchen Table Fills",
            "Teodora Quillfeather",
            "Let the left hand start.",
        )
        assert full.notes == ("Slow first.", "Then faster.")

    def test_what_is_played(self, full):
        assert full.groove.name == "six-eight"
        assert (full.tempo, full.bars) == ((50, 60, 72), 2)
        assert full.kinds == (StepKind.LAST_BEAT, StepKind.ROUND)
        assert full.landing == ("crash", "second crash", "kick", "foot hi-hat")
        assert full.feel == Feel(swing=Fraction(2, 3), flam_ms=30.5)
        assert [figure.name for figure in full.earlier] == ["single stroke four", "flam"]

    def test_what_is_made(self, full):
        assert (full.level, full.hand, full.page, full.audio) == ("gigging", Limb.LEFT, "letter", "flac")
        assert (full.click, full.counting, full.rolls) == (Click.OFF, False, "short")
        assert full.per_step == 3

    def test_the_kit_is_turned_for_the_player_and_the_briefs_have_it_right_handed(self, full):
        assert (full.kit.name, full.kit.mirrored) == ("open-handed", True)
        for brief in full.list_briefs():
            assert (brief.kit, brief.kit.mirrored) == (find_kit("open-handed"), False)
            assert (brief.player.name, brief.tempo, brief.per_step) == ("gigging", 50, 3)

    @pytest.mark.parametrize("kit", ["five-piece", "left-handed"])
    def test_the_left_handed_have_either_kit_the_other_way_round(self, kit):
        lesson = parse_lesson(f'{HEAD}hand = "left"\nkit = "{kit}"\n{FIGURE}')
        assert lesson.kit.spot("floor tom").x < 0
        assert lesson.conditions.kit.spot("floor tom").x > 0

    @pytest.mark.parametrize(
        ("line", "told"),
        [
            ('kit = "forpiece"', 'kit: There is no kit called "forpiece"; did you mean "four-piece"?'),
            ("per_step = 0", "per_step: Found 0; write a whole number from 1 to 6."),
            ("per_step = 7", "per_step: Found 7; write a whole number from 1 to 6."),
            ("count_in = 3", "count_in: Found 3; write a whole number of bars from 0 to 2."),
            (
                'click = "fading"',
                'click: Found the text "fading"; write true, false, "eighths" or "backbeats".',
            ),
        ],
    )
    def test_what_kit_and_per_step_take(self, line, told):
        with pytest.raises(TableError) as caught:
            parse_lesson(f"{HEAD}{line}\n{FIGURE}")
        assert str(caught.value) == f"lesson.toml, line 3, {told}"

    @pytest.mark.parametrize(
        ("written", "click"),
        [
            ("true", Click.BEATS),
            ("false", Click.OFF),
            ('"eighths"', Click.EIGHTHS),
            ('"backbeats"', Click.BACKBEATS),
        ],
    )
    def test_clicks_and_count_ins(self, written, click):
        lesson = parse_lesson(f"{HEAD}click = {written}\ncount_in = 2\n{FIGURE}")
        assert (lesson.click, lesson.count_in) == (click, 2)

    def test_defaults(self):
        lesson = parse_lesson(HEAD + FIGURE)
        assert (lesson.series, lesson.teacher, lesson.goal) == ("", "", "")
        assert (lesson.groove.name, lesson.tempo, lesson.bars) == ("straight eighths", (60, 70, 80, 90), 4)
        assert (lesson.kinds, lesson.landing) == (TEACHING_ORDER, ("crash", "kick"))
        assert (lesson.level, lesson.hand, lesson.page, lesson.audio) == ("steady", Limb.RIGHT, "a4", "mp3")
        assert (lesson.click, lesson.counting, lesson.rolls) == (Click.BEATS, True, "written")
        assert lesson.count_in == 1
        assert (lesson.kit, lesson.per_step) == (find_kit("five-piece"), 1)
        assert (lesson.feel, lesson.notes, lesson.earlier) == (Feel(), (), ())

    @pytest.mark.parametrize(
        ("written", "swing"),
        [
            ("0.5", Fraction(1, 2)),
            ("0.6", Fraction(3, 5)),
            ("0.67", Fraction(67, 100)),
            ("0.667", Fraction(2, 3)),
            ("0.6666", Fraction(2, 3)),
            ("0.58", Fraction(29, 50)),
            ("0.75", Fraction(3, 4)),
        ],
    )
    def test_swing(self, written, swing):
        assert parse_lesson(f"{HEAD}swing = {written}\n{FIGURE}").feel.swing == swing

    @pytest.mark.parametrize(
        ("written", "tempo"), [("72", (72,)), ('"60, 72"', (60, 72)), ('"60..100 step 25"', (60, 85, 100))]
    )
    def test_tempo(self, written, tempo):
        assert parse_lesson(f"{HEAD}tempo = {written}\n{FIGURE}").tempo == tempo

    def test_no_landing(self):
        assert parse_lesson(f"{HEAD}landing = []\n{FIGURE}").landing == ()

    def test_a_byte_order_mark_is_accepted(self):
        assert parse_lesson("\ufeff" + HEAD + FIGURE).number == 1


class TestKeysOfAFigure:
    def test_a_rudiment(self, full):
        figure = full.figures[0]
        assert figure.figure.name == "single paradiddle"
        assert figure.figure.cue == ("pa", "ra", "did", "")
        assert figure.figure.rhythms == (figure.rhythm,)
        assert figure.rhythm.name == "eighths"
        assert (figure.groove.name, figure.lead) == ("straight eighths", Limb.LEFT)
        assert figure.kinds == (StepKind.WHOLE_BAR, StepKind.MIXED)
        assert figure.beats == (Fraction(2), Fraction(4))

    def test_a_figure_of_the_teachers_own(self, full):
        figure = full.figures[1]
        strokes = figure.figure.strokes
        assert [slot and (slot.hand, slot.kind, slot.level) for slot in strokes] == [
            (Limb.LEFT, Kind.SINGLE, Level.ACCENT),
            None,
            (Limb.RIGHT, Kind.SINGLE, Level.GHOST),
            (Limb.RIGHT, Kind.DRAG, Level.TAP),
        ]
        assert figure.rhythm.lengths == (Fraction(1, 4), Fraction(1, 8), Fraction(3, 16), Fraction(3, 16))
        assert (figure.figure.group, figure.figure.alternates, figure.figure.cue) == ("own", False, ())
        assert (figure.groove, figure.kinds, figure.beats) == (full.groove, full.kinds, ())

    def test_a_rudiment_leads_with_the_right(self):
        figure = one(FIGURE)
        assert (figure.lead, figure.rhythm, figure.figure) == (
            Limb.RIGHT,
            None,
            find_figure("single paradiddle"),
        )

    @pytest.mark.parametrize(("sticking", "lead"), [("R L L R", Limb.RIGHT), ("- L R R L", Limb.LEFT)])
    def test_an_own_figure_leads_as_it_is_written(self, sticking, lead):
        assert one(OWN.format(sticking) + "beats = [5, 10]\n").lead is lead

    @pytest.mark.parametrize(
        ("sticking", "alternates"), [("R L L R", True), ("R L R L", False), ("R L R -", True), ("R", True)]
    )
    def test_an_own_figure_alternates_where_it_ends_on_the_hand_it_starts_with(self, sticking, alternates):
        assert one(OWN.format(sticking)).figure.alternates is alternates

    def test_an_own_figure_may_not_alternate(self):
        assert one(OWN.format("R L L R") + "alternates = false\n").figure.alternates is False

    def test_an_own_figure_may_be_named_again(self):
        again = '[[figure]]\nname = "Answer"\nrhythm = "8"\n'
        lesson = parse_lesson(HEAD + OWN.format("R L L R") + again)
        assert [figure.rhythm.name for figure in lesson.figures] == ["sixteenths", "eighths"]

    @pytest.mark.parametrize("other", ['rhythm = "8"', 'groove = "shuffle"', 'lead = "left"'])
    def test_a_rudiment_may_stand_again_in_another_way(self, other):
        assert len(parse_lesson(f"{HEAD}{FIGURE}{FIGURE}{other}\n").figures) == 2

    def test_one_number_of_beats(self):
        assert one('[[figure]]\nname = "flam tap"\nrhythm = "16"\nbeats = 2.5\n').beats == (Fraction(5, 2),)

    def test_sixty_four_strokes_are_read(self):
        assert one(OWN.format("R L " * 32) + "beats = 16\n").figure.main_strokes == 64


class TestBriefs:
    def test_figures_above_count_as_taught_earlier(self, full):
        first, second = full.list_briefs()
        assert [figure.name for figure in first.earlier] == ["single stroke four", "flam"]
        assert [figure.name for figure in second.earlier] == [
            "single stroke four",
            "flam",
            "single paradiddle",
        ]

    def test_they_carry_what_was_asked(self, full):
        brief = full.list_briefs()[0]
        asked = full.figures[0]
        assert (brief.figure, brief.meter, brief.bars) == (asked.figure, asked.groove.meter, 2)
        assert (brief.kinds, brief.lead, brief.beats) == (asked.kinds, asked.lead, asked.beats)

    def test_every_fill_is_in_the_rhythm_given(self, full):
        steps = plan_steps(full.list_briefs()[0]).steps
        assert {step.rhythm.name for step in steps} == {"eighths"}

    def test_triplets_become_eighths_where_a_meter_goes_in_threes(self):
        text = HEAD + 'groove = "six-eight"\n' + OWN.format("R L R").replace('"16"', '"8t"')
        (brief,) = parse_lesson(text).list_briefs()
        assert {step.rhythm.name for step in plan_steps(brief).steps} == {"eighths"}


class TestMistakes:
    def test_all_are_reported_in_the_order_of_the_file(self):
        with pytest.raises(TableError, match="line 1, number") as caught:
            parse_lesson("number = 0\n" + 'title = "a"\n' + FIGURE + "x = 1\nbeats = 0\n", "seven.toml")
        told = str(caught.value).splitlines()
        assert [line.split(":")[0] for line in told] == [
            "seven.toml, line 1, number",
            "seven.toml, line 5, x of figure 1",
            "seven.toml, line 6, beats of figure 1",
        ]

    def test_fifty_are_enough(self):
        with pytest.raises(TableError, match="There may be more mistakes; fix these first") as caught:
            parse_lesson(HEAD + "".join(f"x{n} = 1\n" for n in range(2000)) + FIGURE)
        assert len(str(caught.value).splitlines()) == 51

    def test_beyond_fifty_no_value_is_taken_for_read(self):
        lists = "earlier = [" + ", ".join(f'"e{n}xyz"' for n in range(40)) + "]\n"
        keys = "".join(f"x{n} = 1\n" for n in range(20))
        with pytest.raises(TableError, match="There may be more"):
            parse_lesson(f'{HEAD}{keys}{lists}landing = ["cowbell"]\nsteps = ["?"]\n{FIGURE}')

    def test_fifty_spans_that_do_not_fit_are_enough(self):
        names = ("flam accent", "Swiss triplet", "triple stroke roll", "double paradiddle", "pataflafla")
        beats = [number + 0.5 for number in range(20, 26)]
        rows = (
            f'[[figure]]\nname = "{name}"\nrhythm = "16"\nlead = "{lead}"\nbeats = {beats}\n'
            for name in names
            for lead in ("left", "right")
        )
        with pytest.raises(TableError, match="There may be more") as caught:
            parse_lesson(HEAD + "".join(rows))
        assert len(str(caught.value).splitlines()) == 51

    def test_the_same_sentence_for_one_line_is_reported_once(self):
        with pytest.raises(TableError, match=r"^lesson\.toml, line 3, earlier: [^\n]*$"):
            parse_lesson(f'{HEAD}earlier = ["xyz", "xyz"]\n{FIGURE}')

    def test_what_a_mistake_quotes_is_short_and_can_be_printed(self):
        with pytest.raises(TableError, match="use one of") as caught:
            parse_lesson(f'{HEAD}"a\\nb{"x" * 5000}" = 1\npage = "{"y" * 5000}"\n{FIGURE}')
        assert max(map(len, str(caught.value).splitlines())) < 500
        assert len(str(caught.value).splitlines()) == 2

    @pytest.mark.parametrize(
        "character", ["\\u0000", "\\u001b", "\\u0085", "\\u2028", "\\u202e", "\\ufffe", "\\ufdd0"]
    )
    def test_characters_that_paper_can_not_hold(self, character):
        with pytest.raises(TableError, match=r"line 3, series: Found the control character U\+"):
            parse_lesson(f'{HEAD}series = "a{character}b"\n{FIGURE}')

    def test_what_can_not_be_printed_is_not_quoted(self):
        with pytest.raises(TableError, match='called "\N{REPLACEMENT CHARACTER}mixed"'):
            parse_lesson(f'{HEAD}steps = ["\\ud7fcmixed"]\n{FIGURE}')

    @pytest.mark.parametrize("title", ["Déjà vu – 7½", "練習", "תיפוף", "👩‍🎤"])
    def test_every_script_can_be_written(self, title):
        assert parse_lesson(f'number = 1\ntitle = "{title}"\n{FIGURE}').title == title

    def test_a_number_too_long_to_print(self):
        with pytest.raises(TableError, match="line 3, bars: Found a very large number; write"):
            parse_lesson(f"{HEAD}bars = 0x{'f' * 9000}\n{FIGURE}")

    def test_the_fills_of_good_figures_are_checked_despite_other_mistakes(self):
        with pytest.raises(TableError) as caught:
            parse_lesson(f'{HEAD}page = "a3"\n{FIGURE}beats = 17\n')
        assert [line.split(":")[0] for line in str(caught.value).splitlines()] == [
            "lesson.toml, line 3, page",
            "lesson.toml, line 6, beats of figure 1",
        ]

    def test_no_fill_is_missed_because_something_else_is_wrong(self):
        mixed = '[[figure]]\nname = "flam"\nsteps = ["mixed"]\n'
        with pytest.raises(TableError) as caught:
            parse_lesson(f'{HEAD}[[figure]]\nname = "single paradidle"\n{mixed}')
        assert len(str(caught.value).splitlines()) == 1


class TestFiles:
    def write(self, tmp_path, data):
        path = tmp_path / "seven.toml"
        path.write_bytes(data)
        return path

    def refused(self, path):
        with pytest.raises(TableError) as caught:
            read_lesson(path)
        return str(caught.value)

    def test_a_lesson(self, tmp_path):
        assert read_lesson(self.write(tmp_path, read_demo_text().encode())) == parse_lesson(read_demo_text())

    @pytest.mark.parametrize("ends", [b"\r\n", b"\n"])
    def test_as_a_plain_editor_saves_it(self, tmp_path, ends):
        data = b"\xef\xbb\xbf" + (HEAD + FIGURE).encode().replace(b"\n", ends)
        assert read_lesson(self.write(tmp_path, data)).title == "Paradiddles"

    def test_a_mistake_names_the_file(self, tmp_path):
        path = self.write(tmp_path, (HEAD + "bars = 0\n" + FIGURE).encode())
        assert self.refused(path) == "seven.toml, line 3, bars: Found 0; write a whole number from 1 to 16."

    def test_no_utf_8(self, tmp_path):
        path = self.write(tmp_path, 'title = "é"'.encode("latin-1"))
        assert (
            self.refused(path) == "seven.toml: This is not a text file (byte 9 is 0xe9); save it as UTF-8 text."
        )

    def test_nul_bytes(self, tmp_path):
        assert self.refused(self.write(tmp_path, b"a = 1\n\0")) == (
            "seven.toml, line 2: There is a NUL byte; save the file as UTF-8 text."
        )

    def test_half_a_character(self):
        with pytest.raises(TableError, match="line 3: There is half a character"):
            parse_lesson(HEAD + "\ud800")

    def test_too_large(self, tmp_path):
        path = self.write(tmp_path, b"#" * 10_000_000)
        assert self.refused(path) == "seven.toml: This file has 10,000 kB; a lesson file has at most 256 kB."

    def test_the_largest(self, tmp_path):
        text = (HEAD + FIGURE).encode()
        assert read_lesson(self.write(tmp_path, text + b"#" * (256_000 - len(text)))).number == 1
        assert self.refused(self.write(tmp_path, text + b"#" * (256_001 - len(text)))).startswith(
            "seven.toml: This file has 257 kB"
        )

    def test_a_text_too_large(self):
        with pytest.raises(
            TableError, match=r"lesson\.toml: This file has 600 kB; a lesson file has at most 256 kB"
        ):
            parse_lesson("é" * 300_000)

    def test_empty(self, tmp_path):
        assert self.refused(self.write(tmp_path, b"")).startswith(
            "seven.toml: This file is empty; a lesson needs"
        )

    def test_a_folder(self, tmp_path):
        assert self.refused(tmp_path) == f"{tmp_path.name}: This is a folder; give the name of a lesson file."

    def test_missing(self, tmp_path):
        assert (
            self.refused(tmp_path / "no.toml")
            == f"{tmp_path}/no.toml: There is no such file; check its name and folder."
        )

    def test_a_pipe(self, tmp_path):
        os.mkfifo(tmp_path / "pipe")
        assert self.refused(tmp_path / "pipe") == "pipe: This is not a file; give the name of a lesson file."

    def test_no_permission(self, tmp_path, monkeypatch):
        path = self.write(tmp_path, b"")

        def refuse(*_):
            raise PermissionError

        monkeypatch.setattr(Path, "open", refuse)
        assert self.refused(path) == "seven.toml: You have no permission to read this file."

    @pytest.mark.parametrize("name", ["a\0b", "x" * 5000, "a/" * 3000])
    def test_names_no_file_can_have(self, tmp_path, name):
        assert "can't be read; check its name" in self.refused(tmp_path / name)


class TestDemo:
    def test_there_is_a_figure_of_every_group(self, demo):
        assert {figure.figure.group for figure in demo.figures} == {*GROUPS, "own"}

    def test_it_is_a_good_evenings_worth(self, plans):
        assert 40 <= sum(len(each.steps) for each in plans) <= 48

    def test_every_step_asked_for_is_made(self, plans):
        assert [each.left_out for each in plans] == [()] * len(plans)

    def test_it_goes_from_the_snare_to_the_kit_and_to_other_figures(self, plans):
        seen = {step.kind for each in plans for step in each.steps}
        assert set(StepKind) - seen == {
            StepKind.BY_POSITION,
            StepKind.KICK,
            StepKind.SPLIT_FLAMS,
            StepKind.UP,
        }

    def test_one_fill_starts_off_the_beat(self, demo):
        assert [figure.beats for figure in demo.figures if figure.beats] == [(Fraction(5, 2),)]

    def test_its_words_are_short(self, demo):
        assert all(len(note.split()) <= 20 for note in demo.notes)
        assert len(demo.goal.split()) <= 24
