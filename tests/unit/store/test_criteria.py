import pytest
from tests.unit.store.reports import GOOD, GROOVE, MISSING, POOR, stroke

from fillwright.errors import StoreError
from fillwright.store.criteria import Criteria, verdict


def test_a_good_take_passes():
    assert verdict(GOOD, Criteria()).passed


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (POOR, "1 stroke of the fill is missing"),
        ({"strokes": [*GOOD["strokes"], MISSING, MISSING]}, "2 strokes of the fill are missing"),
        ({"strokes": [*GROOVE, stroke(1.0), stroke(45.0)]}, "50% of the fill's strokes are within 30 ms"),
        (
            {"strokes": [*GROOVE, stroke(None, fill=False, landing=True, outcome="missing")]},
            "1 stroke of the fill",
        ),
        ({"fill_spread_ms": 28.0}, "scatter by 28 ms"),
        ({"fill_rush_percent": 3.0}, "rushes by 3.0 %"),
        ({"fill_rush_percent": -4.0}, "drags by 4.0 %"),
        ({"strokes": GROOVE}, "could be timed"),
        ({"refused": "silence"}, "could not be laid"),
    ],
)
def test_what_stands_in_the_way_is_said(change, words):
    found = verdict({**GOOD, **change}, Criteria())
    assert not found.passed
    assert any(words in reason for reason in found.reasons)


def test_the_criteria_are_the_teachers():
    strict = Criteria(on_time_ms=5, on_time_share=1.0)
    assert not verdict(GOOD, strict).passed
    assert verdict(POOR, Criteria(most_missing=1)).passed


@pytest.mark.parametrize(
    "change",
    [
        {"strokes": [*GOOD["strokes"], stroke(90.0, fill=False), stroke(None, outcome="missing", fill=False)]},
        {"strokes": [*GOOD["strokes"], stroke(60.0, grace=True)]},
        {"fill_rush_percent": 3.5, "fill_rush_error_percent": 2.0},
        {"fill_spread_ms": None, "fill_rush_percent": None, "fill_rush_error_percent": None},
    ],
    ids=["the groove", "a grace note before its beat", "a rush that may be chance", "too few strokes to tell"],
)
def test_what_says_nothing_of_the_fill_does_not_stand_in_its_way(change):
    assert verdict({**GOOD, **change}, Criteria()).passed


@pytest.mark.parametrize(
    "wrong",
    [{"most_missing": -1}, {"on_time_ms": 0}, {"on_time_share": 1.2}, {"most_rush_percent": float("nan")}],
)
def test_criteria_that_can_not_be_held_to_are_refused(wrong):
    with pytest.raises(StoreError, match="lies between"):
        Criteria(**wrong)
