import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillwright.craft.brief import StepKind
from fillwright.craft.steps import plan_steps
from fillwright.lesson import fill_checks
from fillwright.lesson import fills as fills_module
from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import LONGEST_NAME, build_fills, format_tempo, make_slug
from fillwright.music.rudiments import load_rudiments, normalize_name
from fillwright.music.stroke import Limb
from fillwright.pack.contents import name_files

HEAD = 'number = 1\ntitle = "Small"\nlevel = "professional"\ntempo = [20, 70]\n'
OWN = '[[figure]]\nname = {name}\nsticking = "R L R R"\nrhythm = "16"\nsteps = ["last beat", "whole bar"]\n'

# Names that Windows keeps for devices (published by its maker; from memory).
DEVICES = {"con", "prn", "aux", "nul", *(f"com{i}" for i in range(10)), *(f"lpt{i}" for i in range(10))}
LONGEST_PATH = 170
"""Letters of a path in the pack, so that 90 remain for the folder it lies in where a path has at most 260."""

_PRINTED = st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp", "Cn", "Co", "Cf"])
_TAKEN = {normalize_name(name) for figure in load_rudiments() for name in (figure.name, *figure.aliases)}
OWN_NAMES = st.text(_PRINTED, min_size=1, max_size=80).filter(
    lambda name: name.strip() and normalize_name(name) not in _TAKEN
)


def quoted(text):
    return '"' + "".join(f"\\U{ord(letter):08X}" for letter in text) + '"'


def paths_of(lesson):
    return [path for fill in build_fills(lesson).fills for path in name_files(lesson, fill).values()]


def assert_safe_everywhere(paths):
    """Unique on a disk that does not tell capitals, plain letters only, short, no name a system keeps."""
    assert len({path.casefold() for path in paths}) == len(paths)
    for path in paths:
        assert len(path) <= LONGEST_PATH
        for name in path.split("/"):
            assert re.fullmatch(r"[a-z0-9]([a-z0-9.-]*[a-z0-9])?", name), name
            assert name.split(".")[0] not in DEVICES
            assert len(name.encode()) < 255


@pytest.fixture(scope="module")
def demo():
    return build_fills(parse_lesson(read_demo_text())).fills


class TestNames:
    def test_of_all_rudiments_and_steps(self):
        rows = "".join(f'[[figure]]\nname = "{figure.name}"\n' for figure in load_rudiments())
        lesson = parse_lesson(HEAD + rows)
        paths = paths_of(lesson)
        assert_safe_everywhere(paths)
        assert len(build_fills(lesson).fills) > 200
        # whoever sorts by name has the order of the lesson
        slugs = [fill.slug for fill in build_fills(lesson).fills]
        assert slugs == sorted(slugs)
        # every rudiment keeps its whole name
        for figure in load_rudiments():
            assert any(f"-{make_slug(figure.name)}-" in each for each in slugs)

    @settings(max_examples=60, deadline=None)
    @given(st.lists(OWN_NAMES, min_size=1, max_size=4, unique_by=normalize_name))
    def test_of_any_own_figures(self, names):
        stickings = ("R L R R", "R L L R", "R R L L", "R L R L")
        rows = [
            OWN.format(name=quoted(name)).replace(stickings[0], hands)
            for name, hands in zip(names, stickings, strict=False)
        ]
        assert_safe_everywhere(paths_of(parse_lesson(HEAD + "".join(rows))))

    @pytest.mark.parametrize(
        ("name", "part"),
        [
            ("練習", "fill"),
            ("?!…", "fill"),
            ("../..", "fill"),
            ("CON", "con"),
            ("Étude für Ola", "etude-fur-ola"),
            ("x" * 80, "x" * LONGEST_NAME),
            ("\ufb03" * 80, ("ffi" * 80)[:LONGEST_NAME]),
            ("one two three four five six seven eight nine ten", "one-two-three-four-five-six-seven-eight"),
        ],
    )
    def test_of_odd_own_figures(self, name, part):
        lesson = parse_lesson(HEAD + OWN.format(name=quoted(name)))
        assert [fill.slug for fill in build_fills(lesson).fills] == [
            f"01-{part}-last-beat",
            f"02-{part}-whole-bar",
        ]
        assert_safe_everywhere(paths_of(lesson))

    def test_of_two_own_figures_that_look_alike(self):
        lesson = parse_lesson(
            HEAD + OWN.format(name='"練習"') + OWN.format(name='"学習"').replace("R R", "L L")
        )
        assert_safe_everywhere(paths_of(lesson))

    def test_a_longer_lesson_counts_with_more_digits(self):
        row = '[[figure]]\nname = "{}"\n'
        many = "".join(row.format(figure.name) for figure in load_rudiments()[:25])
        fills = build_fills(parse_lesson(HEAD + many)).fills
        assert len(fills) >= 100
        assert (fills[0].slug[:4], fills[99].slug[:4]) == ("001-", "100-")

    def test_audio_stands_in_the_order_of_its_tempos(self):
        lesson = parse_lesson('number = 1\ntitle = "T"\ntempo = [20, 90, 100, 150]\n' + OWN.format(name='"x"'))
        names = name_files(lesson, build_fills(lesson).fills[0])
        audio = [names[str(tempo)] for tempo in lesson.tempo]
        assert audio == sorted(audio)


class TestContents:
    def test_fills_are_numbered_from_one(self, demo):
        assert [fill.number for fill in demo] == list(range(1, len(demo) + 1))
        assert all(int(fill.slug.split("-")[0]) == fill.number for fill in demo)

    def test_they_come_figure_by_figure(self, demo):
        parts = [fill.part for fill in demo]
        assert parts == sorted(parts)
        assert set(parts) == set(range(9))

    def test_every_fill_is_in_its_phrase(self, demo):
        for fill in demo:
            assert len(fill.phrase.bars) == 5
            assert fill.phrase.span.end == 4 * fill.phrase.meter.bar
            start = fill.phrase.span.start
            played = [hit for hit in fill.phrase.hits() if fill.phrase.is_in_fill(hit.at)]
            assert sorted(hit.at - start for hit in played) == sorted(hit.at for hit in fill.step.fill.hits)

    def test_every_fill_lands_on_crash_and_kick(self, demo):
        for fill in demo:
            assert {hit.surface.name for hit in fill.phrase.bars[-1].hits} == {"crash", "kick"}

    def test_without_a_landing_the_phrase_ends_with_the_fill(self):
        lesson = parse_lesson(HEAD + "landing = []\nbars = 2\n" + OWN.format(name='"x"'))
        assert {len(fill.phrase.bars) for fill in build_fills(lesson).fills} == {2}

    def test_the_left_handed_play_it_the_other_way_round(self):
        text = HEAD + OWN.format(name='"x"')
        right, left = (
            build_fills(parse_lesson(f'hand = "{hand}"\n' + text)).fills for hand in ("right", "left")
        )
        assert [fill.phrase.mirror() for fill in right] == [fill.phrase for fill in left]
        first = next(hit for hit in left[0].phrase.hits() if left[0].phrase.is_in_fill(hit.at))
        assert first.stroke.hand is Limb.LEFT

    def test_each_fill_has_its_own_groove(self):
        text = (
            HEAD
            + OWN.format(name='"x"')
            + OWN.format(name='"y"').replace("R R", "L L")
            + 'groove = "shuffle"\n'
        )
        assert [fill.groove for fill in build_fills(parse_lesson(text)).fills] == [
            *["straight eighths"] * 2,
            *["shuffle"] * 2,
        ]

    def test_the_cue_has_a_word_for_every_stroke_and_none_where_figures_are_mixed(self):
        lesson = parse_lesson(
            HEAD
            + 'earlier = ["single stroke four"]\n[[figure]]\nname = "x"\nsticking = "R - L R"\nrhythm = "16"\n'
            + 'cue = "one - two -"\nsteps = ["last beat", "mixed"]\n'
        )
        last, mixed = build_fills(lesson).fills
        assert (last.sheet.cue, mixed.sheet.cue) == (("one", "two", ""), ())
        assert mixed.step.kind is StepKind.MIXED

    def test_skipped_steps_are_listed(self):
        lesson = parse_lesson(HEAD + OWN.format(name='"x"').replace('"whole bar"', '"mixed"'))
        assert build_fills(lesson).left_out == ("x, mixed: there is no earlier figure.",)

    def test_settings_of_the_lesson_reach_the_sheet(self):
        lesson = parse_lesson(HEAD + 'counting = false\nrolls = "short"\n' + OWN.format(name='"x"'))
        sheet = build_fills(lesson).fills[0].sheet
        assert (sheet.counting, sheet.short_rolls, sheet.tempo) == (False, True, "20–70")

    def test_titles_are_figure_and_caption(self, demo):
        assert demo[0].title == "Single stroke four: Last beat, all on the snare"
        assert demo[0].rhythm == "a sixteenth-note triplet and an eighth"

    def test_a_half_beat_has_its_place_in_the_name(self, demo):
        assert "32-flam-tap-last-2-5-beats" in [fill.slug for fill in demo]

    def test_own_spans_have_names_of_their_own(self):
        lesson = parse_lesson(HEAD + OWN.format(name='"x"').replace('"whole bar"]', "]\nbeats = [3, 8, 9]"))
        assert [fill.slug for fill in build_fills(lesson).fills] == [
            "01-x-last-beat",
            "02-x-last-3-beats",
            "03-x-last-2-bars",
            "04-x-last-9-beats",
        ]
        assert build_fills(lesson).fills[1].phrase.span.length == Fraction(3, 4)


def test_tempo_words_name_both_ends():
    assert [format_tempo(ladder) for ladder in ((60,), (60, 70), (60, 70, 90))] == ["60", "60–70", "60–90"]


class TestPlanning:
    """Every figure is planned once, however often its lesson is read and its fills are asked for in between."""

    @pytest.fixture
    def planned(self, monkeypatch):
        briefs = []

        def plan(brief):
            briefs.append(brief)
            return plan_steps(brief)

        monkeypatch.setattr(fill_checks, "plan_steps", plan)
        monkeypatch.setattr(fills_module, "plan_steps", plan)
        return briefs

    def test_the_demo(self, planned):
        lesson = parse_lesson(read_demo_text())
        build_fills(lesson)
        assert [brief.figure.name for brief in planned] == [figure.figure.name for figure in lesson.figures]

    def test_a_figure_without_a_step_on_the_snare(self, planned):
        text = (
            'number = 1\ntitle = "One"\nper_step = 2\nearlier = ["flam tap"]\nhand = "left"\n'
            '[[figure]]\nname = "single paradiddle"\nsteps = ["hands apart", "mixed"]\n'
            '[[figure]]\nname = "flam accent"\nsteps = ["flams split"]\n'
        )
        assert build_fills(parse_lesson(text)).fills
        assert [brief.figure.name for brief in planned] == ["single paradiddle", "flam accent"]

    def test_a_lesson_that_is_changed_after_reading_is_planned_again(self, planned):
        text = 'number = 1\ntitle = "One"\n[[figure]]\nname = "single paradiddle"\nsteps = ["hands apart"]\n'
        lesson = replace(parse_lesson(text), tempo=(100,))
        assert build_fills(lesson).fills[0].ladder == (100,)
        assert [brief.tempo for brief in planned] == [60, 100]
