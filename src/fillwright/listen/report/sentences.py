"""Three sentences on a take: what was good, what to fix first, which tempo comes next.

Only what a listener can hear is reported to a student; `faults` gives the order and `next_tempo` the tempo. The
wordings are data (`sentences.toml`). The take's own numbers choose one of several, so nothing is random.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any
from zlib import crc32

from fillwright.listen.report.facts import gather_values
from fillwright.listen.report.faults import Severity, find_first_fault
from fillwright.listen.report.model import Report
from fillwright.listen.report.next_tempo import choose_next, choose_slow_tempo, choose_target
from fillwright.listen.report.praise import choose_praise

Sentences = tuple[str, str, str]
"""Praise, first fault and next tempo, a sentence or two each."""


def write_sentences(report: Report, *, ladder: Sequence[int] = (), remark: str = "") -> Sentences:
    """Return what was good, what to fix first, and which tempo comes next.

    Args:
        report: on the take.
        ladder: the tempos at which the fill is practised, slow to fast; empty without a ladder.
        remark: on a take that has no fault but is not passed: what it does not show. The tempo then stays.
    """
    values = gather_values(report)
    if report.refused:
        return _write_refusal(report, values, ladder)
    seed = crc32(repr(sorted(values.items())).encode("utf-8"))
    fault, severity = find_first_fault(report)
    unclear = bool(remark) and severity is Severity.NONE
    severity = Severity.DETAIL if unclear else severity
    next_key, tempo = choose_next(report, severity, ladder)
    if next_key in ("target", "slow_to_target"):
        fault = "other_tempo"
    values["tempo"] = f"{tempo:d}"
    return (
        _fill_in("good", choose_praise(report), values, seed),
        remark if unclear and fault == "nothing" else _fill_in("fix", fault, values, seed),
        _fill_in("next", next_key, values, seed),
    )


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("sentences.toml").read_text("utf-8"))


def _fill_in(part: str, key: str, values: Mapping[str, str], seed: int) -> str:
    wordings = _table()[part][key]
    sentence: str = wordings[seed % len(wordings)].format_map(values)
    return sentence[0].upper() + sentence[1:]


def _write_refusal(report: Report, values: Mapping[str, str], ladder: Sequence[int]) -> Sentences:
    """Return why nothing is scored and what to do about it."""
    again, tempo = choose_target(report, ladder)
    known = {**values, "tempo": f"{tempo:d}", "slow_tempo": f"{choose_slow_tempo(report, ladder):d}"}
    known["again"] = _fill_in("next", again, known, 0)
    key = report.refused
    if key == "tempo" and report.tempo_found is None:
        key = "tempo_unknown"
    table = _table()["refused"]
    good, fix, go_on = (text.format_map(known) for text in table.get(key, table["wrong phrase"])["words"])
    return good, fix, go_on
