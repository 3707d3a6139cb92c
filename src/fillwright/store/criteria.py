"""When a take passes: the teacher's criteria, with sensible defaults."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from fillwright.errors import StoreError

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
        on_time_share: part of the strokes that must be on time, 0 to 1.
        most_spread_ms: standard deviation of the lags.
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
    """Hold a report against the criteria.

    Args:
        report: as `listen.report` gives it in JSON: `strokes` with `lag_ms` and `outcome`,
            `fill_rush_percent`, `missing`, `refused`.
        criteria: the teacher's.
    """
    if report.get("refused"):
        return Verdict(passed=False, reasons=("The take could not be laid against the phrase.",))
    reasons = tuple(_reasons(report, criteria))
    return Verdict(passed=not reasons, reasons=reasons)


def _reasons(report: Mapping[str, Any], criteria: Criteria) -> Iterator[str]:
    missing = len(report["missing"])
    if missing > criteria.most_missing:
        yield f"{missing} {'stroke is' if missing == 1 else 'strokes are'} missing."
    lags = [stroke["lag_ms"] for stroke in report["strokes"] if stroke["lag_ms"] is not None]
    if not lags:
        yield "No stroke could be timed."
        return
    share = sum(abs(lag) <= criteria.on_time_ms for lag in lags) / len(lags)
    if share < criteria.on_time_share:
        yield (
            f"{share:.0%} of the strokes are within {criteria.on_time_ms:g} ms of their place; "
            f"{criteria.on_time_share:.0%} are asked for."
        )
    mean = sum(lags) / len(lags)
    spread = (sum((lag - mean) ** 2 for lag in lags) / len(lags)) ** 0.5
    if spread > criteria.most_spread_ms:
        yield f"The strokes spread by {spread:.0f} ms; at most {criteria.most_spread_ms:g} ms is asked for."
    rush = report["fill_rush_percent"]
    if rush is not None and abs(rush) > criteria.most_rush_percent:
        yield f"The fill {'rushes' if rush > 0 else 'drags'} by {abs(rush):.1f} %."
