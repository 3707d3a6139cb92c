import pytest
from msgspec.structs import replace

from fillwright.errors import StoreError
from fillwright.store.criteria import LABELS, LIMITS, Criteria, judge_take
from tests.unit.store.reports import GOOD, GROOVE, MISSING, POOR, REFUSED, stroke


def test_a_good_take_passes():
    assert judge_take(GOOD, Criteria()).passed


@pytest.mark.parametrize(
    ("report", "words"),
    [
        (POOR, "1 stroke of the fill is missing"),
        (replace(GOOD, strokes=(*GOOD.strokes, MISSING, MISSING)), "2 strokes of the fill are missing"),
        (replace(GOOD, strokes=(*GROOVE, stroke(1.0), stroke(45.0))), "50% of the fill's strokes are on time"),
        (
            replace(GOOD, strokes=(*GROOVE, stroke(None, fill=False, landing=True, outcome="missing"))),
            "1 stroke of the fill",
        ),
        (replace(GOOD, fill_unevenness_ms=28.0), "uneven by 28 ms"),
        (replace(GOOD, fill_rush_percent=3.0), "rushes by 3.0 %"),
        (replace(GOOD, fill_rush_percent=-4.0), "drags by 4.0 %"),
        (replace(GOOD, strokes=GROOVE), "could be timed"),
        (REFUSED, "does not fit the phrase"),
    ],
)
def test_every_reason_has_a_sentence(report, words):
    verdict = judge_take(report, Criteria())
    assert not verdict.passed
    assert any(words in reason for reason in verdict.reasons)


def test_the_criteria_are_the_teachers():
    strict = Criteria(on_time_ms=5, on_time_share=1.0)
    assert not judge_take(GOOD, strict).passed
    assert judge_take(POOR, Criteria(most_missing=1)).passed


@pytest.mark.parametrize(
    "report",
    [
        replace(
            GOOD,
            strokes=(*GOOD.strokes, stroke(90.0, fill=False), stroke(None, outcome="missing", fill=False)),
        ),
        replace(GOOD, strokes=(*GOOD.strokes, stroke(60.0, grace=True))),
        replace(GOOD, fill_rush_percent=3.5, fill_rush_error_percent=2.0),
        replace(GOOD, fill_unevenness_ms=None, fill_rush_percent=None, fill_rush_error_percent=None),
    ],
    ids=["the groove", "a grace note before its beat", "an uncertain rush", "too few strokes"],
)
def test_only_the_fill_is_judged(report):
    assert judge_take(report, Criteria()).passed


@pytest.mark.parametrize(
    "wrong",
    [{"most_missing": -1}, {"on_time_ms": 0}, {"on_time_share": 1.2}, {"most_rush_percent": float("nan")}],
)
def test_criteria_outside_their_limits_are_refused(wrong):
    (name,) = wrong
    with pytest.raises(StoreError) as caught:
        Criteria(**wrong)
    low, high = LIMITS[name]
    assert str(caught.value).startswith(LABELS[name])
    assert str(caught.value).endswith(f"write {low:g} to {high:g}.")
