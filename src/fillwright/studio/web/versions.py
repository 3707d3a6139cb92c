"""Two tabs, one lesson: a form carries the version it was made from, and saving an older one is refused."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from difflib import unified_diff
from typing import Any

from fillwright.errors import FillwrightError
from fillwright.store.lessons import get_newest_version, list_versions
from fillwright.store.transaction import Transaction
from fillwright.studio.web.request import PageRequest
from fillwright.tables.values import shorten

FIELD = "made_from"
"""Hidden field of a form with the version it was made from. A form without it is not checked."""

_DIGITS = 16  # hexadecimal digits of a version's digest: 64 bits; ours
_MOST_LINES = 40  # changed lines of a text that are shown; ours


class EditConflictError(FillwrightError):
    """Something that was saved elsewhere after the form was made.

    Attributes:
        sentences: what happened, and each change.
    """

    def __init__(self, subject: str, changes: Iterable[str]) -> None:
        """Take the thing, such as "This lesson", and its changes."""
        first = (
            f"{subject} was saved somewhere else after you opened this page. Nothing was saved now. "
            "Your text is still here: compare it with the changes below, then save again to keep yours."
        )
        super().__init__(first)
        self.sentences = [first, *changes]


def check_lesson_version(request: PageRequest, transaction: Transaction, number: int) -> None:
    """Refuse a form that was made from an older text of a lesson than the newest.

    Raises:
        EditConflictError: if the lesson was saved in between.
    """

    def list_changes() -> list[str]:
        versions = list_versions(transaction, number)
        base = next((item.text for item in versions if str(item.id) == request.text(FIELD)), "")
        return list_changed_lines(base, versions[0].text) if base else []

    check_version(
        request,
        transaction,
        "This lesson",
        lambda: str(get_newest_version(transaction, number).id),
        list_changes,
    )


def compute_version(values: Mapping[str, Any]) -> str:
    """Return a short digest of values, which differs whenever one of them does."""
    content = json.dumps(values, sort_keys=True, default=str).encode("utf-8")
    return hashlib.sha256(content).hexdigest()[:_DIGITS]


def check_version(
    request: PageRequest,
    transaction: Transaction,
    subject: str,
    read_current: Callable[[], str],
    list_changes: Callable[[], Iterable[str]],
) -> None:
    """Refuse a form that was made from another version than the stored one.

    Args:
        request: that brings the form.
        transaction: that will save it. Others wait until it ends.
        subject: begins the sentence, such as "This lesson".
        read_current: returns the stored version.
        list_changes: lists what differs, a sentence each.

    Raises:
        EditConflictError: if somebody else saved in between.
    """
    transaction.lock()
    if FIELD in request.fields and request.text(FIELD) != read_current():
        raise EditConflictError(subject, list_changes())


def choose_version(request: PageRequest, current: str, error: FillwrightError | None) -> str:
    """Return the version for a form: the stored one, or with mistakes in the form the one it was made from."""
    if error is None or isinstance(error, EditConflictError):
        return current
    return request.text(FIELD) or current


def list_differences(
    stored: Mapping[str, Any], sent: Mapping[str, Any], labels: Mapping[str, str]
) -> list[str]:
    """List the fields in which the stored values differ from those that were sent.

    >>> list_differences({"hand": "left"}, {"hand": "right"}, {"hand": "Leading hand"})
    ['Leading hand: saved is "left", yours is "right".']
    """
    return [
        f"{labels.get(name, name)}: saved is {_quote(value)}, yours is {_quote(sent[name])}."
        for name, value in stored.items()
        if name in sent and str(value) != str(sent[name])
    ]


def list_changed_lines(before: str, after: str) -> list[str]:
    r"""List the lines that differ between two texts, the old ones with a minus and the new ones with a plus.

    >>> list_changed_lines("number = 1\ntitle = 'A'", "number = 1\ntitle = 'B'")
    ["Line removed: title = 'A'", "Line added: title = 'B'"]
    """
    names = {"-": "Line removed", "+": "Line added"}
    lines = list(unified_diff(before.splitlines(), after.splitlines(), n=0, lineterm=""))[2:]
    changed = [f"{names[line[0]]}: {line[1:]}" for line in lines if line[0] in names]
    return changed[:_MOST_LINES]


def _quote(value: Any) -> str:
    text = ("yes" if value else "no") if isinstance(value, bool) else str(value)
    return f'"{shorten(text)}"'
