"""Records of the verdict and the confidence in a stored report."""

from __future__ import annotations

from typing import Literal

import msgspec

from fillwright.listen.report.stored.types import (
    CriterionKey,
)


class CriterionRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A criterion that a fill is judged by, and what it asks for, in words."""

    key: CriterionKey
    words: str


class VerdictRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The verdict on a take.

    Attributes:
        passed: True if everything asked was shown, False if something is wrong, None if it can't be judged.
        asked: every criterion, in the order of importance, and what it asks for.
        shown: those that the take meets.
        not_shown: those that this take can't show, and what to do.
        wrong: those that it does not meet, and why.
    """

    passed: bool | None
    asked: tuple[CriterionRecord, ...]
    shown: tuple[CriterionKey, ...]
    not_shown: tuple[CriterionRecord, ...]
    wrong: tuple[CriterionRecord, ...]


class ConfidenceRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Confidence in the report, "none" where nothing is scored, and a sentence for each limit."""

    level: Literal["high", "fair", "low", "none"]
    limits: tuple[str, ...]
