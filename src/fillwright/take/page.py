"""A page on a student's take: three sentences, the picture, the numbers, the confidence."""

from __future__ import annotations

from importlib.resources import files

from fillwright.listen.report.confidence import Confidence
from fillwright.listen.report.number_table import list_numbers
from fillwright.pack.handout import get_typst_paper
from fillwright.score.engraving.paper import typeset
from fillwright.take.picture import WIDTH_MM, TakePicture
from fillwright.take.take import AssessedTake

_CONFIDENCE = {
    Confidence.HIGH: "Confidence: high. You can trust these numbers.",
    Confidence.FAIR: "Confidence: fair. Trust these numbers within these limits.",
    Confidence.LOW: "Confidence: low. Don't rely on these numbers.",
    Confidence.NONE: "Nothing is scored.",
}


def typeset_take(take: AssessedTake, picture: TakePicture, *, page: str) -> bytes:
    """Return the page as a PDF.

    Args:
        take: with its report.
        picture: of the take.
        page: "a4" or "letter".
    """
    drawings = {f"part-{number}.svg": part.svg for number, part in enumerate(picture.parts)}
    data = {
        "title": take.reference.title,
        "heading": f"Take at {take.report.tempo_target:g} bpm",
        "running": take.name,
        "page": get_typst_paper(page),
        "width": WIDTH_MM,
        "sentences": take.sentences,
        "drawings": tuple(drawings),
        "numbers": list_numbers(take.report),
        "confidence": _CONFIDENCE[take.confidence.level],
        "limits": take.confidence.limits + take.remarks,
    }
    template = files(__package__).joinpath("page.typ").read_text("utf-8")
    return typeset(template, data, drawings)
