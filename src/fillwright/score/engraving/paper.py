"""Pages and pictures by the typesetter: fonts, PDF and PNG."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, Literal

import typst

from fillwright.atomic import make_temporary_folder
from fillwright.errors import OutputError

_FONT_PACKAGES = ("font_source_serif_pro", "font_source_sans_pro")
PIXELS_PER_INCH = 300
"""Resolution of pictures (common practice for print, no source)."""


@cache
def _load_fonts() -> typst.Fonts:
    """Load our two text faces and no others: a page must not depend on what the machine has."""
    paths = [str(files(package).joinpath("files")) for package in _FONT_PACKAGES]
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=paths)


def typeset(template: str, data: Mapping[str, Any], drawings: Mapping[str, str]) -> bytes:
    """Typeset a page as PDF, the same bytes on every run.

    Args:
        template: source that reads `data.json` and the drawings next to it.
        data: what the page says; goes to the template as JSON, so that no text can be taken for markup.
        drawings: SVG documents by file name.
    """
    return _compile(template, data, drawings, "pdf")[0]


def typeset_pictures(template: str, data: Mapping[str, Any], drawings: Mapping[str, str]) -> tuple[bytes, ...]:
    """Typeset the same page or pages as PNG."""
    return _compile(template, data, drawings, "png")


_PICTURE = """
#let data = json("data.json")
#set page(width: data.width * 1mm, height: data.height * 1mm, margin: data.margin * 1mm)
#set document(date: none, title: data.title)
#image("drawing.svg", width: 100%)
"""
_MARGIN_MM = 3  # round a drawing on a page of its own (ours, not measured)


def make_pdf(svg: str, *, width_mm: float, height_mm: float, title: str = "") -> bytes:
    """Make a PDF with one drawing on a page of its own size."""
    return typeset(_PICTURE, _describe_page(width_mm, height_mm, title), {"drawing.svg": svg})


def make_png(svg: str, *, width_mm: float, height_mm: float) -> bytes:
    """Make a PNG of one drawing, on white, 300 pixels an inch."""
    return typeset_pictures(_PICTURE, _describe_page(width_mm, height_mm, ""), {"drawing.svg": svg})[0]


def _describe_page(width_mm: float, height_mm: float, title: str) -> dict[str, Any]:
    return {
        "width": width_mm + 2 * _MARGIN_MM,
        "height": height_mm + 2 * _MARGIN_MM,
        "margin": _MARGIN_MM,
        "title": title,
    }


def _compile(
    template: str, data: Mapping[str, Any], drawings: Mapping[str, str], kind: Literal["pdf", "png"]
) -> tuple[bytes, ...]:
    with make_temporary_folder() as folder:
        for file, svg in drawings.items():
            (folder / file).write_text(svg, "utf-8")
        (folder / "data.json").write_text(json.dumps(data, ensure_ascii=False, sort_keys=True), "utf-8")
        source = folder / "page.typ"
        source.write_text(template, "utf-8")
        try:
            content: Any = typst.compile(  # bytes for one page of PNG, a list for several
                str(source), root=str(folder), format=kind, ppi=PIXELS_PER_INCH, font_paths=_load_fonts()
            )
        except typst.TypstError as error:
            raise OutputError(f"The page can't be set: {error}") from error
    return tuple(content) if isinstance(content, list) else (content,)
