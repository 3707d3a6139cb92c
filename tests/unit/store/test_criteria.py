import pytest

from fillwright.errors import StoreError
from fillwright.store.criteria import Criteria, verdict

GOOD = {"missing": [], "strokes": [{"lag_ms": lag} for lag in (2.0, -5.0, 8.0, None)], "fill_rush_percent": 1.0}


def test_a_good_take_passes():
    assert verdict(GOOD, Criteria()).passed


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"missing": [{}]}, "1 stroke is missing"),
        ({"missing": [{}, {}]}, "2 strokes are missing"),
        ({"strokes": [{"lag_ms": 1.0}, {"lag_ms": 45.0}]}, "50% of the strokes are within 30 ms"),
        ({"strokes": [{"lag_ms": 28.0}, {"lag_ms": -28.0}]}, "spread by 28 ms"),
        ({"fill_rush_percent": 3.0}, "rushes by 3.0 %"),
        ({"fill_rush_percent": -4.0}, "drags by 4.0 %"),
        ({"strokes": []}, "could be timed"),
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
    assert verdict({**GOOD, "missing": [{}]}, Criteria(most_missing=1)).passed


@pytest.mark.parametrize(
    "wrong",
    [{"most_missing": -1}, {"on_time_ms": 0}, {"on_time_share": 1.2}, {"most_rush_percent": float("nan")}],
)
def test_criteria_that_can_not_be_held_to_are_refused(wrong):
    with pytest.raises(StoreError, match="lies between"):
        Criteria(**wrong)
