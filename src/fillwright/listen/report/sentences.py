"""Three sentences on a take: what was good, what to fix first, at which tempo to go on.

Only what an ear can hear is put to a student; `faults` says in which order. The wordings are data
(`sentences.toml`); which of several is taken depends on the take's own numbers, so nothing is random.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any
from zlib import crc32

from fillwright.listen.limits import limit
from fillwright.listen.report.facts import gather_values
from fillwright.listen.report.faults import Severity, find_first_fault
from fillwright.listen.report.model import Report
from fillwright.listen.report.praise import choose_praise

Sentences = tuple[str, str, str]


def write_sentences(report: Report, *, ladder: Sequence[int] = ()) -> Sentences:
    """What was good, what to fix first, and the tempo to go on at: a sentence each.

    Args:
        report: of the take.
        ladder: the tempos at which the fill is practised, if it has any.
    """
    if report.refused:
        return _refused(report)
    known = gather_values(report)
    seed = crc32(repr(sorted(known.items())).encode("utf-8"))
    good = choose_praise(report)
    fault, weight = find_first_fault(report)
    tempo_key, tempo = _next(report, weight, ladder)
    if tempo_key == "asked":
        fault = "other_tempo"
    known["tempo"] = f"{tempo:d}"
    return (
        _said("good", good, known, seed),
        _said("fix", fault, known, seed),
        _said("next", tempo_key, known, seed),
    )


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("sentences.toml").read_text("utf-8"))


def _said(part: str, key: str, values: Mapping[str, str], seed: int) -> str:
    wordings = _table()[part][key]
    sentence: str = wordings[seed % len(wordings)].format_map(values)
    return sentence[0].upper() + sentence[1:]


def _next(report: Report, weight: Severity, ladder: Sequence[int]) -> tuple[str, int]:
    """How to go on, and the tempo for it."""
    asked = report.tempo_asked
    played = report.tempo_played or asked
    other = abs(played / asked - 1) * 100 > limit("time.other_tempo_percent")
    if other and weight is Severity.NONE:
        return "asked", round(asked)
    base = min(played, asked) if other else asked
    if weight is Severity.MUCH:
        return "much_slower", round(base * limit("tempo.much"))
    if weight is Severity.SOME:
        return "slower", round(base * limit("tempo.some"))
    if weight is Severity.DETAIL:
        return "same", round(base)
    higher = [rung for rung in ladder if rung > base + 0.5]
    if ladder and not higher:
        return "top", round(base)
    return "faster", higher[0] if higher else round(base * limit("tempo.on"))


def _refused(report: Report) -> Sentences:
    known = gather_values(report)
    key = report.refused
    if key == "tempo" and report.tempo_found is None:
        key = "tempo_unknown"
    table = _table()["refused"]
    said = [sentence.format_map(known) for sentence in table.get(key, table["wrong phrase"])["words"]]
    return said[0], said[1], said[2]
