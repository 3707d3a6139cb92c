"""Criteria of a passed take: the teacher's, or the defaults."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fillwright.errors import StoreError
from fillwright.listen.limits import get_limit
from fillwright.listen.report.stored.schema import ReportRecord

LIMITS = {
    "most_missing": (0, 20),
    "on_time_ms": (5.0, 100.0),
    "on_time_share": (0.0, 1.0),
    "most_spread_ms": (3.0, 100.0),
    "most_rush_percent": (0.0, 20.0),
}
"""Lowest and highest value of each criterion, in the unit that its name ends with. Ours."""

LABELS = {
    "most_missing": "Missing strokes allowed",
    "on_time_ms": "On time within (ms)",
    "on_time_share": "Share of strokes on time (0 to 1)",
    "most_spread_ms": "Unevenness allowed (ms)",
    "most_rush_percent": "Rush or drag allowed (%)",
}
"""Label of each criterion on the page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """Criteria that a take must meet. The defaults are ours, not measured: those of a patient teacher.

    Attributes:
        most_missing: strokes of the fill that may be missing.
        on_time_ms: largest lag of a stroke that is on time, either way.
        on_time_share: part of the fill's strokes that must be on time, 0 to 1.
        most_spread_ms: largest unevenness of the fill: standard deviation of its lags round its own tempo.
        most_rush_percent: largest difference between the tempos of fill and groove, either way.
    """

    most_missing: int = 0
    on_time_ms: float = 30.0
    on_time_share: float = 0.9
    most_spread_ms: float = 20.0
    most_rush_percent: float = 2.5

    def __post_init__(self) -> None:
        """Refuse a criterion outside its limits.

        Raises:
            StoreError: naming the criterion and its limits.
        """
        for name, (low, high) in LIMITS.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise StoreError(f"{LABELS[name]}: found {value:g}; write {low:g} to {high:g}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The result of judging a take: passed or not, and a sentence for each criterion that it does not meet."""

    passed: bool
    reasons: tuple[str, ...]


def judge_take(report: ReportRecord, criteria: Criteria) -> Verdict:
    """Check the fill of a take and its landing against the criteria. The groove before it does not count."""
    if report.refused:
        return Verdict(passed=False, reasons=("The take does not fit the phrase, so it is not scored.",))
    reasons = tuple(_list_reasons(report, criteria))
    return Verdict(passed=not reasons, reasons=reasons)


def _list_reasons(report: ReportRecord, criteria: Criteria) -> Iterator[str]:
    strokes = [stroke for stroke in report.strokes if stroke.fill or stroke.landing]
    missing = sum(stroke.outcome == "missing" for stroke in strokes)
    if missing > criteria.most_missing:
        yield f"{missing} {'stroke of the fill is' if missing == 1 else 'strokes of the fill are'} missing."
    lags = [stroke.lag_ms for stroke in strokes if not stroke.grace and stroke.lag_ms is not None]
    if not lags:
        yield "No stroke of the fill could be timed."
        return
    share = sum(abs(lag) <= criteria.on_time_ms for lag in lags) / len(lags)
    if share < criteria.on_time_share:
        yield (
            f"{share:.0%} of the fill's strokes are on time, within {criteria.on_time_ms:g} ms. "
            f"The goal is {criteria.on_time_share:.0%}."
        )
    unevenness = report.fill_unevenness_ms
    if unevenness is not None and unevenness > criteria.most_spread_ms:
        yield f"The fill is uneven by {unevenness:.0f} ms. The goal is {criteria.most_spread_ms:g} ms or less."
    rush, error = report.fill_rush_percent, report.fill_rush_error_percent
    certain = get_limit("time.sure_errors") * (error or 0.0)
    if rush is not None and abs(rush) > max(criteria.most_rush_percent, certain):
        yield f"The fill {'rushes' if rush > 0 else 'drags'} by {abs(rush):.1f} %."
