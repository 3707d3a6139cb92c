"""Reports as JSON tables: the one way out, and the one way back, which also reads what older versions wrote."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from fillwright.errors import FillwrightError
from fillwright.listen.report.stored.schema import VERSION, ReportRecord

_NAMES_1 = {
    "tempo_asked": "tempo_target",
    "unheard": "not_audible",
    "passes": "repetitions",
    "landing_spread_ms": "landing_unevenness_ms",
    "groove_spread_ms": "groove_unevenness_ms",
    "fill_spread_ms": "fill_unevenness_ms",
    "figures": "numbers",
    "trust": "confidence",
}
"""Keys of a version 1 report that have other names now."""

_ROW_NAMES_1 = {
    "pass": "repetition",
    "level": "dynamics",
    "level_db": "loudness_db",
    "level_error_db": "loudness_error_db",
    "level_spread_db": "loudness_unevenness_db",
    "interval_spread_ms": "interval_unevenness_ms",
    "spread_ms": "unevenness_ms",
    "surface_heard": "surface_played",
    "surface_sure": "surface_confidence",
    "sure": "confidence",
}
"""The same for the tables inside a version 1 report."""

_OUTCOMES_1 = {"heard, timing unsure": "timing uncertain", "couldn't hear": "not audible"}


def encode_report(record: ReportRecord) -> dict[str, Any]:
    """Return a report as a table of plain values, ready for JSON."""
    table: dict[str, Any] = msgspec.to_builtins(record)
    return table


def decode_report(content: Mapping[str, Any] | bytes, *, where: str = "The report") -> ReportRecord:
    """Read a report that `encode_report` wrote, or the plain values of version 1.

    Args:
        content: the table, or the bytes of a report.json.
        where: name of the report, for messages.

    Raises:
        FillwrightError: for a report that is damaged, or that a newer version wrote.
    """
    try:
        table = msgspec.json.decode(content) if isinstance(content, bytes) else dict(content)
        if not isinstance(table, dict):
            raise msgspec.ValidationError("Expected `object`")
        version = table.get("version", 1)
        if version == 1:
            table = _upgrade(table)
        elif isinstance(version, int) and version > VERSION:
            raise FillwrightError(
                f"{where} was written by a newer version of Fillwright (report version {version}); "
                f"this one reads versions 1 to {VERSION}."
            )
        elif version == 2:  # the keys added since have defaults
            table = {**table, "version": VERSION}
        elif version != VERSION:
            raise msgspec.ValidationError(f"Invalid version {version!r:.40}")
        return msgspec.convert(table, ReportRecord)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise FillwrightError(f"{where} is damaged ({error!s:.200}); assess the take again.") from error


def _upgrade(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return a version 1 report under today's names.

    Raises:
        msgspec.ValidationError: for a key that is there twice, under both names.
    """
    inner = {key: value if key == "trust" else _upgrade_rows(value) for key, value in table.items()}
    return {"numbers": (), **_rename(inner, _NAMES_1), "version": VERSION}


def _upgrade_rows(value: Any) -> Any:
    if isinstance(value, list | tuple):
        return [_upgrade_rows(row) for row in value]
    if not isinstance(value, Mapping):
        return value
    row = {key: _upgrade_rows(inner) for key, inner in _rename(value, _ROW_NAMES_1).items()}
    outcome = row.get("outcome")
    return row | {"outcome": _OUTCOMES_1.get(outcome, outcome)} if isinstance(outcome, str) else row


def _rename(table: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    for old, new in names.items():
        if old in table and new in table:
            raise msgspec.ValidationError(f"Both `{old}` and `{new}`")
    return {names.get(key, key): value for key, value in table.items()}
