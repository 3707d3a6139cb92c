"""Practice plans on paper: one page for the music stand."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import files
from typing import Any

from fillwright.pack.handout import paper
from fillwright.score.engraving.paper import typeset
from fillwright.store.planning.noise import level_dba, minutes_on
from fillwright.store.planning.plan import Item, Plan, Why

CAUTIONS = (
    "Wear hearing protection. Stop when it hurts; what keeps hurting or ringing belongs in front of a doctor. "
    "Local rules on noise come first."
)


def plan_page(
    plans: Sequence[Plan], *, student: str, practises_on: str, protected: bool, page: str = "a4"
) -> bytes:
    """Plans as PDF.

    Args:
        plans: one for each day; days with nothing to do are left out.
        student: the name.
        practises_on: as `noise.toml` has it.
        protected: whether the ears are.
        page: "a4" or "letter".
    """
    shown = [plan for plan in plans if plan.items]
    minutes = sum(plan.played_minutes for plan in shown)
    data = {
        "title": f"{student}'s practice",
        "summary": f"{_span(shown)}{minutes} minutes of playing in all.",
        "page": paper(page),
        "days": [
            {"name": f"{plan.day:%A, %-d %B}", "rows": [_row(item) for item in plan.items]} for plan in shown
        ],
        "noise": noise_words(practises_on, protected=protected),
        "cautions": CAUTIONS,
    }
    template = files(__package__).joinpath("page.typ").read_text("utf-8")
    return typeset(template, data, {})


def noise_words(practises_on: str, *, protected: bool) -> str:
    """How long the day's noise allows, in a sentence.

    >>> noise_words("acoustic kit", protected=False)
    'An acoustic kit is about 100 dBA at the ear: 15 minutes a day without protection (NIOSH 98-126).'
    """
    minutes = round(minutes_on(practises_on, protected=protected))
    article = "An" if practises_on[0] in "aeiou" else "A"
    how = "with earplugs that take 15 dB" if protected else "without protection"
    time = f"{minutes // 60} hours" if minutes >= 120 else f"{minutes} minutes"
    return (
        f"{article} {practises_on} is about {level_dba(practises_on):.0f} dBA at the ear: {time} a day {how} "
        "(NIOSH 98-126)."
    )


def _span(plans: Sequence[Plan]) -> str:
    if not plans:
        return "Nothing assigned. "
    first, last = plans[0].day, plans[-1].day
    begins, ends = f"{first.day} {first:%B}", f"{last.day} {last:%B}"
    return f"{begins} to {ends}. " if first != last else f"{begins}. "


def _row(item: Item) -> dict[str, Any]:
    return {
        "minutes": str(item.minutes),
        "title": item.title or item.why.value.capitalize(),
        "reason": item.reason,
        "tempo": "" if item.tempo is None else str(item.tempo),
        "tick": item.why in (Why.REVISE, Why.LEARN),
    }
