"""Reports on takes for tests: a full record, of which the criteria read only a part."""

from __future__ import annotations

from msgspec.structs import replace

from fillwright.listen.report.stored.schema import ReportRecord
from fillwright.listen.report.stored.stroke_records import StrokeRecord
from fillwright.listen.report.stored.verdict_records import ConfidenceRecord


def stroke(
    lag_ms: float | None,
    *,
    outcome: str = "played",
    fill: bool = True,
    landing: bool = False,
    grace: bool = False,
) -> StrokeRecord:
    """Make one written stroke with its lag."""
    return StrokeRecord(
        repetition=1,
        bar=4,
        beat=1.0,
        written_s=6.0,
        played_s=None if lag_ms is None else 6.0 + lag_ms / 1000,
        lag_ms=lag_ms,
        outcome=outcome,
        surface_written="snare",
        surface_played="snare",
        surface_confidence=1.0,
        hand="R",
        dynamics="tap",
        loudness_db=0.0,
        grace=grace,
        fill=fill,
        landing=landing,
    )


GROOVE = (stroke(0.0, fill=False),) * 40
MISSING = stroke(None, outcome="missing")
UNCERTAIN = stroke(None, outcome="timing uncertain")
GOOD = ReportRecord(
    take="take.wav",
    against="A fill",
    fill=1,
    refused="",
    tempo_target=70.0,
    tempo_found=70.0,
    tempo_played=70.0,
    seconds=12.0,
    share_matched=1.0,
    strokes_written=45,
    onsets_matched=45,
    missing=(),
    not_audible=(),
    extra=(),
    wrong_surface=(),
    strokes=(*GROOVE, *map(stroke, (2.0, -5.0, 8.0)), UNCERTAIN, stroke(3.0, fill=False, landing=True)),
    bars=(),
    repetitions=(),
    drift_percent=0.0,
    fill_rush_percent=1.0,
    fill_rush_error_percent=0.5,
    landing_lag_ms=3.0,
    landing_unevenness_ms=None,
    groove_unevenness_ms=4.0,
    fill_unevenness_ms=6.0,
    flams=(),
    rolls=(),
    accent_db=None,
    ghost_db=None,
    hands=None,
    words=("One.", "Two.", "Three."),
    numbers=(("Strokes", "45 of 45 played"),),
    confidence=ConfidenceRecord(level="high", limits=()),
    remarks=(),
)
POOR = replace(GOOD, strokes=(*GOOD.strokes, MISSING))
REFUSED = replace(GOOD, refused="silence", strokes=(), numbers=(), words=("No drums were detected.", "", ""))
