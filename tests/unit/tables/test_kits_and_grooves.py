"""[grooves."name"] and [kits."name"]: a teacher's own, wherever a lesson names a groove or a kit."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from fillwright.craft.player.kits import find_kit
from fillwright.errors import FitError, TableError, UnknownNameError
from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.lesson.series import collect_taught
from fillwright.music.grooves import read_groove
from fillwright.music.stroke import Limb
from fillwright.pack.build import build_pack
from fillwright.tables.kits_and_grooves import (
    MOST_TABLES,
    OwnTables,
    check_own_name,
    format_groove,
    format_kit,
    make_groove,
    make_kit,
    parse_own_tables,
)
from fillwright.tables.values import RejectedValueError

HEAD = 'number = 1\ntitle = "Mine"\n'
FIGURE = '[[figure]]\nname = "single paradiddle"\nsteps = ["last beat", "round the kit", "ends on cymbals"]\n'
LINES = (
    {"surface": "hi-hat", "hand": "R", "at": "1 let 2 let 3 let 4 let"},
    {"surface": "snare", "hand": "L", "at": "2> 4> (1trip)"},
    {"surface": "kick", "at": "1 3"},
)
GROOVE = format_groove("kitchen shuffle", "4/4", LINES)
KIT = format_kit("practice room", "five-piece", ["china", "splash"])
WALTZ = '[grooves.two]\nmeter = "3/4"\ntempo = [40, 80]\nlines = [{ surface = "kick", at = "1" }]\n'


def lesson(head: str = "", figure: str = "", tables: str = GROOVE + KIT):
    return parse_lesson(f"{HEAD}{head}{FIGURE}{figure}\n{tables}")


def refused(text: str) -> str:
    with pytest.raises(TableError) as caught:
        parse_lesson(text)
    return str(caught.value)


def test_the_lesson_and_a_figure_may_name_them_in_any_spelling():
    read = lesson(
        'groove = "Kitchen-Shuffle"\nkit = "Practice room"\n', 'groove = "two"\n', GROOVE + KIT + WALTZ
    )
    assert read.groove.name == "kitchen shuffle"
    assert read.groove.hits == read_groove({"name": "", "meter": "4/4", "tempo": [1, 2], "lines": LINES}).hits
    assert read.figures[0].groove.meter.name == "3/4"
    assert (read.groove.tempo, read.figures[0].groove.tempo) == ((60, 120), (40, 80))
    assert set(read.kit.spots) == set(find_kit("five-piece").spots) - {"china", "splash"}
    assert [groove.name for groove in read.own_tables.grooves] == ["kitchen shuffle", "two"]
    assert [kit.name for kit in read.own_tables.kits] == ["practice room"]


def test_the_groove_is_played_before_every_fill():
    read = lesson('groove = "kitchen shuffle"\n')
    for fill in build_fills(read).fills:
        assert fill.groove == "kitchen shuffle"
        assert fill.phrase.bars[0].hits == read.groove.hits


def test_fills_stay_on_the_kit():
    read = lesson(
        'kit = "bare"\n', tables='[kits.bare]\nfrom = "four-piece"\nwithout = ["crash", "high tom"]\n'
    )
    made = build_fills(read)
    assert {hit.surface.name for fill in made.fills for hit in fill.step.route.hits} == {"snare", "floor tom"}
    assert any("ends on cymbals" in sentence for sentence in made.left_out)


def test_a_left_handed_player_has_the_kit_the_other_way_round():
    right, left = lesson('kit = "practice room"\n'), lesson('kit = "practice room"\nhand = "left"\n')
    assert left.kit.mirrored
    assert left.kit == right.kit.mirror()
    routes = [[fill.step.route.hits for fill in build_fills(one).fills] for one in (right, left)]
    assert routes[0] == routes[1]
    there = format_kit("left room", "left-handed", ["china"])
    assert lesson('kit = "left room"\nhand = "left"\n', tables=there).kit.mirrored


def test_surfaces_may_be_added_and_moved():
    tables = """[kits."wide room"]
from = "four-piece"
surfaces = [{ name = "splash", at = [3.5, 100], size = 20 }, { name = "crash", at = [-60, 90], size = 46 }]
"""
    kit = lesson('kit = "wide room"\n', tables=tables).kit
    assert (kit.spot("splash").x, kit.spot("splash").y, kit.spot("splash").size) == (3.5, 100, 20)
    assert kit.spot("crash").x == -60
    assert kit.spot("snare") == find_kit("four-piece").spot("snare")


def test_a_kit_may_be_written_out_from_nothing():
    tables = """[kits.pads]
surfaces = [{ name = "snare", at = [0, 40], size = 20 }, { name = "kick", at = [12, 70], size = 20 }]
"""
    assert list(lesson('kit = "pads"\n', tables=tables).kit.spots) == ["snare", "kick"]


def test_tables_that_nothing_names_are_checked_all_the_same():
    assert "This groove is empty" in refused(HEAD + FIGURE + '[grooves.x]\nmeter = "4/4"\nlines = []\n')


def test_a_name_whose_table_has_a_mistake_is_reported_as_that():
    told = refused(f'{HEAD}groove = "x"\nkit = "y"\n{FIGURE}[grooves.x]\n[kits.y]\nfrom = 3\n{KIT}')
    assert 'line 3, groove: The groove "x" can\'t be read; fix its table first.' in told
    assert 'line 4, kit: The kit "y" can\'t be read; fix its table first.' in told
    assert "no groove called" not in told


def test_a_table_of_ours_is_refused_and_ours_is_found():
    table = '[grooves.shuffle]\nmeter = "4/4"\nlines = [{ surface = "kick", at = "1" }]\n'
    told = refused(f'{HEAD}groove = "shuffle"\n{FIGURE}{table}')
    assert told == 'lesson.toml, line 7, groove "shuffle": "shuffle" is a groove already; choose another name.'


def test_every_mistake_of_a_line_is_reported_in_its_line():
    def places(lines):
        told = refused(f'{HEAD}{FIGURE}[grooves.x]\nmeter = "4/4"\nlines = [\n{lines}]\n')
        return [line.split(": ")[0] for line in told.split("\n")]

    lines = '{ surface = "snare", at = "1" },\n{ surface = "snair", hand = "X", at = "1" },\n'
    assert places(lines) == [
        'lesson.toml, line 9, lines of groove "x"',
        'lesson.toml, line 10, surface of groove "x"',
        'lesson.toml, line 10, hand of groove "x"',
    ]
    assert places(f"{lines}7,\n") == ['lesson.toml, line 11, lines of groove "x"']


def test_more_than_a_lesson_has_are_refused():
    many = "".join(f'[kits.k{number}]\nfrom = "five-piece"\n' for number in range(MOST_TABLES + 1))
    assert f"There are {MOST_TABLES + 1} kits; a lesson has at most {MOST_TABLES}" in refused(
        HEAD + FIGURE + many
    )


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ('grooves = "shuffle"\n', 'line 1, grooves: Found the text "shuffle"; write [grooves."a name'),
        ("kits = 7\n", 'line 1, kits: Found 7; write [kits."a name'),
        ("kits.x = []\n", 'line 1, kit "x": Found an empty list; write [kits."a name'),
        ('grooves."" = {}\n', 'line 1, meter of groove "": This key is missing'),
        (
            'kits."-" = { from = "five-piece" }\n',
            'kit "-": Found the text "-" for a name; write one with letters',
        ),
        (
            'kits."a\\u0007b" = { from = "five-piece" }\n',
            "Found the control character U+0007 in the text for a name",
        ),
        (f'kits.{"x" * 81} = {{ from = "five-piece" }}\n', "Found a text of 81 characters for a name"),
        ('kits."Five Piece" = { from = "five-piece" }\n', '"Five Piece" is a kit already'),
        ('kits.x = { from = "five-piece", without = "china" }\n', "write a list of surfaces"),
        (
            'kits.x = { surfaces = [{ name = "kick", at = [1, nan], size = 20 }] }\n',
            "nan, which is not a number",
        ),
        ("kits.x = {}\n", "The x kit has no snare"),
    ],
)
def test_values_that_can_not_be_read_are_reported(head, words):
    assert words in refused(f"{head}{HEAD}{FIGURE}")


def test_what_is_written_is_read_back():
    own = parse_own_tables(GROOVE + KIT, "mine")
    assert own.grooves == (make_groove("kitchen shuffle", {"meter": "4/4", "lines": LINES}),)
    assert own.kits == (
        make_kit("practice room", {"from": find_kit("five-piece"), "without": ["china", "splash"]}),
    )
    odd = 'my "own" \\ [x] ü'
    assert [*tomllib.loads(format_groove(odd, "4/4", LINES))["grooves"]] == [odd]
    assert [*tomllib.loads(format_kit(odd, "four-piece", []))["kits"]] == [odd]
    with pytest.raises(TableError, match=r'^mine, line 1, meter of groove "x"'):
        parse_own_tables('[grooves.x]\nlines = [{ surface = "kick", at = "1" }]\n', "mine")


def test_of_two_of_a_name_the_first_text_s_is_taken():
    mine, theirs = (
        parse_own_tables(GROOVE + KIT, "a"),
        parse_own_tables(GROOVE.replace("2>", "2") + WALTZ + KIT, "b"),
    )
    both = mine.merge(theirs)
    assert [groove.name for groove in both.grooves] == ["kitchen shuffle", "two"]
    assert both.grooves[0] is mine.grooves[0]
    assert both.kits == mine.kits
    assert OwnTables().merge(theirs) == theirs


def test_a_name_is_folded_and_checked():
    assert check_own_name("  my\n groove ", "groove") == "my groove"
    assert check_own_name("shuffle", "kit") == "shuffle"
    with pytest.raises(RejectedValueError, match="Found an empty text for a name; write 1 to 80"):
        check_own_name(" ", "kit")
    with pytest.raises(UnknownNameError, match='"WALTZ" is a groove already'):
        check_own_name("WALTZ", "groove")
    with pytest.raises(FitError, match="This groove is empty"):
        make_groove("x", {"meter": "4/4", "lines": []})


def test_a_series_counts_them_as_taught():
    read = lesson('groove = "two"\n', tables=WALTZ)
    so_far = collect_taught([read, lesson('groove = "kitchen shuffle"\n'), replace(read, number=3)])
    assert so_far.grooves == ("two", "kitchen shuffle")
    assert so_far.meters == ("3/4", "4/4")


def test_a_fill_on_a_surface_that_the_kit_lacks_is_reported():
    fill = '[[fill]]\nname = "far"\nbeats = 1\nsticking = "R L R L"\nrhythm = "16"\non = "china"\n'
    told = refused(f'{HEAD}kit = "practice room"\n{FIGURE}{KIT}{fill}')
    assert "Far uses the china, but the practice room kit doesn't have one; choose another surface." in told


@pytest.mark.parametrize("hand", ["right", "left"])
def test_a_pack_is_built_of_them(tmp_path: Path, hand: str):
    keys = f'groove = "kitchen shuffle"\nkit = "practice room"\nhand = "{hand}"\ntempo = 120\nbars = 1\n'
    text = f'{HEAD}{keys}audio = "wav"\n{FIGURE}{GROOVE}{KIT}'
    pack = tmp_path / "pack"
    build_pack(parse_lesson(text), text, pack)
    assert "kitchen shuffle" in (pack / "practice.html").read_text("utf-8").casefold()
    assert (pack / "handout.pdf").read_bytes().startswith(b"%PDF")
    assert list(pack.rglob("*.mid"))


def test_a_groove_is_cut_where_a_fill_starts():
    read = lesson('groove = "kitchen shuffle"\n', "beats = 2.5\n")
    fill = next(one for one in build_fills(read).fills if one.step.route.span.length == Fraction(5, 8))
    before = [hit for hit in fill.phrase.bars[3].hits if hit.at < Fraction(3, 8)]
    assert [hit.stroke.hand for hit in before if hit.at == 0] == [Limb.RIGHT, Limb.RIGHT_FOOT]
