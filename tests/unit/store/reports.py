"""Reports on takes, as listening gives them, down to what the criteria read."""

from typing import Any


def stroke(
    lag_ms: float | None,
    *,
    outcome: str = "played",
    fill: bool = True,
    landing: bool = False,
    grace: bool = False,
) -> dict[str, Any]:
    """One written stroke and what became of it."""
    return {"lag_ms": lag_ms, "outcome": outcome, "fill": fill, "landing": landing, "grace": grace}


GROOVE = [stroke(0.0, fill=False)] * 40
MISSING = stroke(None, outcome="missing")
UNSURE = stroke(None, outcome="heard, timing unsure")
GOOD = {
    "strokes": [*GROOVE, *map(stroke, (2.0, -5.0, 8.0)), UNSURE, stroke(3.0, fill=False, landing=True)],
    "fill_spread_ms": 6.0,
    "fill_rush_percent": 1.0,
    "fill_rush_error_percent": 0.5,
}
POOR = {**GOOD, "strokes": [*GOOD["strokes"], MISSING]}
