"""The table of rudiments against the published sheet.

Source: Percussive Arts Society, International Drum Rudiments (from memory)
Source: National Association of Rudimental Drummers, Thirteen Essential Rudiments (from memory)
Source: Common practice
"""

from __future__ import annotations

import re

import pytest

from fillwright.music.figure import Figure
from fillwright.music.rudiments import GROUPS, find_figure, load_rudiments
from fillwright.music.stroke import Kind, Level, Limb, Slot

SHEET = """
1   roll   single stroke roll         RL RL             LR LR             -
2   roll   single stroke four         RLRL RLRL         LRLR LRLR         -
3   roll   single stroke seven        RLRLRLR LRLRLRL   LRLRLRL RLRLRLR   -
4   roll   multiple bounce roll       bRbL bRbL         bLbR bLbR         -
5   roll   triple stroke roll         RRRLLL RRRLLL     LLLRRR LLLRRR     -
6   roll   double stroke open roll    RRLL RRLL         LLRR LLRR         -
7   roll   five stroke roll           RRLLR LLRRL       LLRRL RRLLR       5
8   roll   six stroke roll            RLLRRL RLLRRL     LRRLLR LRRLLR     1,6
9   roll   seven stroke roll          RRLLRRL RRLLRRL   LLRRLLR LLRRLLR   7
10  roll   nine stroke roll           RRLLRRLLR LLRRLLRRL  LLRRLLRRL RRLLRRLLR  9
11  roll   ten stroke roll            RRLLRRLLRL RRLLRRLLRL  LLRRLLRRLR LLRRLLRRLR  9,10
12  roll   eleven stroke roll         RRLLRRLLRRL RRLLRRLLRRL  LLRRLLRRLLR LLRRLLRRLLR  11
13  roll   thirteen stroke roll       RRLLRRLLRRLLR LLRRLLRRLLRRL  LLRRLLRRLLRRL RRLLRRLLRRLLR  13
14  roll   fifteen stroke roll        RRLLRRLLRRLLRRL RRLLRRLLRRLLRRL  LLRRLLRRLLRRLLR LLRRLLRRLLRRLLR  15
15  roll   seventeen stroke roll     RRLLRRLLRRLLRRLLR LLRRLLRRLLRRLLRRL  LLRRLLRRLLRRLLRRL RRLLRRLLRRLLRRLLR 17
16  diddle single paradiddle          RLRR LRLL         LRLL RLRR         1
17  diddle double paradiddle          RLRLRR LRLRLL     LRLRLL RLRLRR     1
18  diddle triple paradiddle          RLRLRLRR LRLRLRLL LRLRLRLL RLRLRLRR 1
19  diddle single paradiddle-diddle   RLRRLL RLRRLL     LRLLRR LRLLRR     1
20  flam   flam                       fR fL             fL fR             -
21  flam   flam accent                fRLR fLRL         fLRL fRLR         1
22  flam   flam tap                   fRR fLL           fLL fRR           1
23  flam   flamacue                   fRLRLfR fLRLRfL   fLRLRfL fRLRLfR   2
24  flam   flam paradiddle            fRLRR fLRLL       fLRLL fRLRR       1
25  flam   single flammed mill        fRRLR fLLRL       fLLRL fRRLR       1
26  flam   flam paradiddle-diddle     fRLRRLL fLRLLRR   fLRLLRR fRLRRLL   1
27  flam   pataflafla                 fRLRfL fRLRfL     fLRLfR fLRLfR     1,4
28  flam   Swiss Army triplet         fRRL fRRL         fLLR fLLR         1
29  flam   inverted flam tap          fRL fLR           fLR fRL           1
30  flam   flam drag                  fRLLR fLRRL       fLRRL fRLLR       1
31  drag   drag                       dR dL             dL dR             -
32  drag   single drag tap            dRL dLR           dLR dRL           2
33  drag   double drag tap            dRdRL dLdLR       dLdLR dRdRL       3
34  drag   lesson 25                  dRLR dRLR         dLRL dLRL         3
35  drag   single dragadiddle         RRLRR LLRLL       LLRLL RRLRR       1
36  drag   drag paradiddle #1         RdRLRR LdLRLL     LdLRLL RdRLRR     1
37  drag   drag paradiddle #2         RdRdRLRR LdLdLRLL LdLdLRLL RdRdRLRR 1
38  drag   single ratamacue           dRLRL dLRLR       dLRLR dRLRL       4
39  drag   double ratamacue           dRdRLRL dLdLRLR   dLdLRLR dRdRLRL   5
40  drag   triple ratamacue           dRdRdRLRL dLdLdLRLR  dLdLdLRLR dRdRdRLRL  6
"""
"""Number, family, name, two turns from the right, two from the left, the accented strokes of a turn.

f a flam, d a drag, b a bounce before the hand that plays the main stroke.
"""

KINDS = {"": Kind.SINGLE, "f": Kind.FLAM, "d": Kind.DRAG, "b": Kind.BUZZ}

Turn = list[tuple[str, Kind]]


class Row:
    """One line of the sheet above, taken apart."""

    def __init__(self, line: str) -> None:
        words = line.split()
        self.number, self.family = int(words[0]), words[1]
        *name, r1, r2, l1, l2, accents = words[2:]
        self.name = " ".join(name)
        self.turns = {Limb.RIGHT: (turn(r1), turn(r2)), Limb.LEFT: (turn(l1), turn(l2))}
        self.accents = set() if accents == "-" else set(map(int, accents.split(",")))


def turn(text: str) -> Turn:
    return [(hand, KINDS[kind]) for kind, hand in re.findall("([fdb]?)([RL])", text)]


def as_turn(slots: tuple[Slot, ...]) -> Turn:
    return [(slot.hand.value, slot.kind) for slot in slots if slot]


SHEET_ROWS = [Row(line) for line in SHEET.strip().splitlines()]
PAIRS = pytest.mark.parametrize(
    ("row", "figure"),
    list(zip(SHEET_ROWS, load_rudiments(), strict=True)),
    ids=[row.name for row in SHEET_ROWS],
)


def test_there_are_forty() -> None:
    assert len(load_rudiments()) == 40
    assert [figure.sheet for figure in load_rudiments()] == list(range(1, 41))


@PAIRS
def test_names_and_order(row: Row, figure: Figure) -> None:
    assert (figure.sheet, figure.family, figure.name) == (row.number, row.family, row.name)


def test_four_families_with_their_counts() -> None:
    families = [figure.family for figure in load_rudiments()]
    assert {family: families.count(family) for family in families} == {
        "roll": 15,
        "diddle": 4,
        "flam": 11,
        "drag": 10,
    }


def test_three_sorts_of_rolls() -> None:
    rolls = [figure.group for figure in load_rudiments() if figure.family == "roll"]
    assert rolls == ["single strokes"] * 3 + ["bounces"] * 2 + ["double strokes"] * 10


@PAIRS
@pytest.mark.parametrize("lead", [Limb.RIGHT, Limb.LEFT])
def test_stickings_from_both_hands(row: Row, figure: Figure, lead: Limb) -> None:
    assert as_turn(figure.lead_with(lead)) == row.turns[lead][0]


@PAIRS
def test_alternating_figures_start_on_the_other_hand(row: Row, figure: Figure) -> None:
    first, second = row.turns[Limb.RIGHT]
    assert figure.alternates == (first != second)
    lead = Limb.LEFT if figure.alternates else Limb.RIGHT
    assert as_turn(figure.lead_with(lead)) == second


@PAIRS
def test_accents(row: Row, figure: Figure) -> None:
    levels = [slot.level for slot in figure.strokes if slot]
    assert {place for place, level in enumerate(levels, start=1) if level is Level.ACCENT} == row.accents
    assert Level.GHOST not in levels


NUMBERS = dict(
    zip(
        "four five six seven nine ten eleven thirteen fifteen seventeen".split(),
        (4, 5, 6, 7, 9, 10, 11, 13, 15, 17),
        strict=True,
    )
)


def test_a_roll_has_as_many_strokes_as_its_name_says() -> None:
    checked = 0
    for figure in load_rudiments():
        named = [NUMBERS[word] for word in figure.name.split() if word in NUMBERS]
        assert [figure.main_strokes] * len(named) == named, figure.name
        checked += len(named)
    assert checked == 2 + 9  # single stroke four and seven; nine double stroke rolls with a number


def test_numbered_rolls_are_doubles_and_the_single_strokes_that_close_them() -> None:
    for figure in load_rudiments():
        if figure.group == "double strokes" and figure.name != "six stroke roll":
            hands = "".join(hand for hand, _ in as_turn(figure.strokes))
            assert re.fullmatch(r"(RRLL)+(R?|RRL|RL)", hands), figure.name


def test_every_flam_rudiment_has_a_flam_and_every_drag_rudiment_a_drag_or_a_double_in_its_place() -> None:
    for figure in load_rudiments():
        kinds = {kind for _, kind in as_turn(figure.strokes)}
        assert (Kind.FLAM in kinds) == (figure.family == "flam"), figure.name
        assert (Kind.DRAG in kinds) == (figure.family == "drag" and figure.name != "single dragadiddle")


def test_six_groups_as_teachers_put_them() -> None:
    # Common practice, no source: rolls by their strokes, then diddles, flams, drags
    assert set(GROUPS) == {figure.group for figure in load_rudiments()}
    assert len(GROUPS) == 6
    for figure in load_rudiments():
        if figure.family != "roll":
            assert figure.group == f"{figure.family}s"


@pytest.mark.parametrize(
    ("alias", "name"),
    [
        # common practice, no source
        ("four-stroke ruff", "single stroke four"),
        ("seven-stroke ruff", "single stroke seven"),
        ("buzz roll", "multiple bounce roll"),
        ("press roll", "multiple bounce roll"),
        ("closed roll", "multiple bounce roll"),
        ("long roll", "double stroke open roll"),
        ("paradiddle", "single paradiddle"),
        ("paradiddle-diddle", "single paradiddle-diddle"),
        ("flamadiddle", "flam paradiddle"),
        ("Swiss triplet", "Swiss Army triplet"),
        ("ruff", "drag"),
        ("three-stroke ruff", "drag"),
        ("single drag", "single drag tap"),
        ("double drag", "double drag tap"),
        ("ratamacue", "single ratamacue"),
        ("drag paradiddle no. 1", "drag paradiddle #1"),
        ("drag paradiddle no. 2", "drag paradiddle #2"),
    ],
)
def test_other_names_the_trade_uses(alias: str, name: str) -> None:
    assert find_figure(alias).name == name


OLDER_NAMES = """
long roll, five stroke roll, seven stroke roll, flam, flam accent, flam paradiddle, flamacue, ruff, single drag,
double drag, double paradiddle, single ratamacue, triple ratamacue, single stroke roll, nine stroke roll,
ten stroke roll, eleven stroke roll, thirteen stroke roll, fifteen stroke roll, flam tap, single paradiddle,
drag paradiddle no. 1, drag paradiddle no. 2, flam paradiddle-diddle, lesson 25, double ratamacue
"""


def test_the_older_twenty_six_are_all_found_and_all_different() -> None:
    found = {find_figure(name).sheet for name in OLDER_NAMES.replace("\n", " ").split(",")}
    assert len(found) == 26
