"""When a take passes: the teacher's criteria, with sensible defaults."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from fillwright.errors import StoreError
from fillwright.listen.limits import limit

_BOUNDS = {
    "most_missing": (0, 20),
    "on_time_ms": (5.0, 100.0),
    "on_time_share": (0.0, 1.0),
    "most_spread_ms": (3.0, 100.0),
    "most_rush_percent": (0.0, 20.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """What a take must meet. The defaults are those of a patient teacher (ours).

    Attributes:
        most_missing: strokes of the fill that may be missing.
        on_time_ms: a stroke no farther than this from its place is on time.
        on_time_share: part of the fill's strokes that must be on time, 0 to 1.
        most_spread_ms: how far the fill's strokes may scatter round its own tempo (standard deviation).
        most_rush_percent: how far the fill's tempo may be from the groove's, either way.
    """

    most_missing: int = 0
    on_time_ms: float = 30.0
    on_time_share: float = 0.9
    most_spread_ms: float = 20.0
    most_rush_percent: float = 2.5

    def __post_init__(self) -> None:
        """Refuse what no take could be held to.

        Raises:
            StoreError: naming the criterion and what is accepted.
        """
        for name, (low, high) in _BOUNDS.items():
            value = getattr(self, name)
            if not low <= value <= high:
                words = name.replace("_", " ").removesuffix(" ms")
                raise StoreError(f"{words.capitalize()} is {value:g}; it lies between {low:g} and {high:g}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Whether a take passes, and a sentence for everything that stands in the way."""

    passed: bool
    reasons: tuple[str, ...]


def verdict(report: Mapping[str, Any], criteria: Criteria) -> Verdict:
    """Hold the fill of a take against the criteria, its landing too; the groove before it has words of its own.

    Args:
        report: as `listen.plain` gives it: `strokes` with `lag_ms`, `outcome`, `fill`, `landing` and `grace`,
            `fill_spread_ms`, `fill_rush_percent` and its error, `refused`.
        criteria: the teacher's.
    """
    if report.get("refused"):
        return Verdict(passed=False, reasons=("The take could not be laid against the phrase.",))
    reasons = tuple(_reasons(report, criteria))
    return Verdict(passed=not reasons, reasons=reasons)


def _reasons(report: Mapping[str, Any], criteria: Criteria) -> Iterator[str]:
    own = [stroke for stroke in report["strokes"] if stroke["fill"] or stroke["landing"]]
    missing = sum(stroke["outcome"] == "missing" for stroke in own)
    if missing > criteria.most_missing:
        yield f"{missing} {'stroke of the fill is' if missing == 1 else 'strokes of the fill are'} missing."
    lags = [stroke["lag_ms"] for stroke in own if not stroke["grace"] and stroke["lag_ms"] is not None]
    if not lags:
        yield "No stroke of the fill could be timed."
        return
    share = sum(abs(lag) <= criteria.on_time_ms for lag in lags) / len(lags)
    if share < criteria.on_time_share:
        yield (
            f"{share:.0%} of the fill's strokes are within {criteria.on_time_ms:g} ms of their place; "
            f"{criteria.on_time_share:.0%} are asked for."
        )
    spread = report["fill_spread_ms"]
    if spread is not None and spread > criteria.most_spread_ms:
        most = f"{criteria.most_spread_ms:g} ms"
        yield f"The fill's strokes scatter by {spread:.0f} ms; at most {most} is asked for."
    rush, error = report["fill_rush_percent"], report["fill_rush_error_percent"]
    surely = limit("time.sure_errors") * (error or 0.0)
    if rush is not None and abs(rush) > max(criteria.most_rush_percent, surely):
        yield f"The fill {'rushes' if rush > 0 else 'drags'} by {abs(rush):.1f} %."
