"""A page on a student's take: three sentences, the picture, the numbers, how far to trust them."""

from __future__ import annotations

from importlib.resources import files

from fillwright.listen.report.number_table import list_numbers
from fillwright.pack.handout import get_typst_paper
from fillwright.score.engraving.paper import typeset
from fillwright.take.picture import WIDTH_MM, TakePicture
from fillwright.take.take import AssessedTake

_TRUST = {
    "high": "These numbers can be relied on.",
    "fair": "These numbers are fair, within these limits.",
    "low": "Take these numbers with care.",
    "none": "Nothing is scored.",
}


def typeset_take(taken: AssessedTake, drawn: TakePicture, *, page: str) -> bytes:
    """The page as PDF.

    Args:
        taken: what is said of the take.
        drawn: its picture.
        page: "a4" or "letter".
    """
    drawings = {f"part-{number}.svg": part.svg for number, part in enumerate(drawn.parts)}
    data = {
        "title": taken.against.title,
        "heading": f"A take at {taken.report.tempo_asked:g}",
        "running": f"{taken.name}",
        "page": get_typst_paper(page),
        "width": WIDTH_MM,
        "words": taken.words,
        "drawings": tuple(drawings),
        "figures": list_numbers(taken.report),
        "trust": _TRUST[taken.trust.level],
        "limits": taken.trust.limits + taken.remarks,
    }
    template = files(__package__).joinpath("page.typ").read_text("utf-8")
    return typeset(template, data, drawings)
