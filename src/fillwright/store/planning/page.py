"""Practice plans on paper: one page for the music stand."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import files
from typing import Any

from fillwright.pack.handout import get_typst_paper
from fillwright.score.engraving.paper import typeset
from fillwright.store.planning.noise import compute_minutes_on, get_loudness_dba, get_protection_dba
from fillwright.store.planning.plan import DayPlan, ItemKind, PlanItem

CAUTIONS = (
    "Wear hearing protection. Stop when it hurts. If pain or ringing does not go away, see a doctor. "
    "Local rules on noise come first."
)
"""Care text at the foot of the page."""


def typeset_plans(
    plans: Sequence[DayPlan], *, student: str, practises_on: str, protected: bool, page: str = "a4"
) -> bytes:
    """Typeset plans as PDF.

    Args:
        plans: one for each day; days without items are not printed.
        student: their name.
        practises_on: instrument, as in `noise.toml`.
        protected: True if the student wears hearing protection.
        page: "a4" or "letter".
    """
    printed = [plan for plan in plans if plan.items]
    minutes = sum(plan.played_minutes for plan in printed)
    data = {
        "title": f"{student}'s practice",
        "summary": f"{_describe_days(printed)}{minutes} minutes of playing in all.",
        "page": get_typst_paper(page),
        "days": [
            {"name": f"{plan.day:%A, %-d %B}", "rows": [_format_row(item) for item in plan.items]}
            for plan in printed
        ],
        "noise": describe_noise(practises_on, protected=protected),
        "cautions": CAUTIONS,
    }
    template = files(__package__).joinpath("page.typ").read_text("utf-8")
    return typeset(template, data, {})


def describe_noise(practises_on: str, *, protected: bool) -> str:
    """Return a sentence with the minutes a day that the noise of an instrument allows.

    >>> describe_noise("acoustic kit", protected=False)
    'An acoustic kit is about 100 dBA at the ear: 15 minutes a day without protection (NIOSH 98-126).'
    """
    minutes = round(compute_minutes_on(practises_on, protected=protected))
    article = "An" if practises_on[0] in "aeiou" else "A"
    protection = f"with earplugs of {get_protection_dba():.0f} dB" if protected else "without protection"
    time = f"{minutes // 60} hours" if minutes >= 120 else f"{minutes} minutes"
    return (
        f"{article} {practises_on} is about {get_loudness_dba(practises_on):.0f} dBA at the ear: "
        f"{time} a day {protection} (NIOSH 98-126)."
    )


def _describe_days(plans: Sequence[DayPlan]) -> str:
    if not plans:
        return "Nothing assigned. "
    first, last = plans[0].day, plans[-1].day
    begins, ends = f"{first.day} {first:%B}", f"{last.day} {last:%B}"
    return f"{begins} to {ends}. " if first != last else f"{begins}. "


def _format_row(item: PlanItem) -> dict[str, Any]:
    return {
        "minutes": str(item.minutes),
        "title": item.title or item.kind.value.capitalize(),
        "reason": item.reason,
        "tempo": "" if item.tempo is None else f"{item.tempo} bpm",
        "tick": item.kind in (ItemKind.REVISE, ItemKind.LEARN),
    }
