"""Pages and pictures: the same bytes every time, sizes as calculated, our faces and no others."""

from __future__ import annotations

import re
import struct
import zlib

import pytest

from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.errors import OutputError
from fillwright.music.rudiments import find_figure
from fillwright.score.engraving.engrave import Engraving, engrave
from fillwright.score.engraving.paper import PIXELS_PER_INCH, make_pdf, make_png, typeset, typeset_pictures
from fillwright.score.sheet import Sheet

MM_PER_INCH = 25.4
MARGIN_MM = 3  # round a drawing on a page of its own
PAGE = """
#let data = json("data.json")
#set page(width: 60mm, height: 40mm, margin: 5mm)
#set document(date: none, title: data.title)
#set text(font: "Source Serif Pro", size: 9pt)
#data.title
"""


@pytest.fixture(scope="module")
def music() -> Engraving:
    return engrave(Sheet(phrase=build_sheet_phrase(find_figure("flam tap")), tempo="80"))


def pdf_of(music: Engraving, title: str = "Flam tap") -> bytes:
    return make_pdf(music.svg, width_mm=music.width_mm, height_mm=music.height_mm, title=title)


def unpack(pdf: bytes) -> bytes:
    """Return a PDF with every compressed stream unpacked behind it."""
    streams = re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL)
    texts = []
    for stream in streams:
        try:
            texts.append(zlib.decompressobj().decompress(stream))
        except zlib.error:
            continue
    assert texts
    return pdf + b"\n".join(texts)


def faces(pdf: bytes) -> set[str]:
    """Return names of the faces in a PDF, without the letters that mark a subset."""
    return {
        name.decode().partition("+")[2]
        for name in re.findall(rb"/(?:BaseFont|FontName)\s*/([A-Z]{6}\+[\w-]+)", unpack(pdf))
    }


def png_size(png: bytes) -> tuple[int, int]:
    width, height = struct.unpack(">II", png[16:24])
    return width, height


def test_a_page_is_the_same_bytes_every_time(music: Engraving) -> None:
    assert pdf_of(music) == pdf_of(music)
    assert pdf_of(music).startswith(b"%PDF-")


def test_a_picture_is_the_same_bytes_every_time(music: Engraving) -> None:
    size = {"width_mm": music.width_mm, "height_mm": music.height_mm}
    assert make_png(music.svg, **size) == make_png(music.svg, **size)


def test_a_picture_has_the_pixels_of_its_size_on_paper(music: Engraving) -> None:
    png = make_png(music.svg, width_mm=music.width_mm, height_mm=music.height_mm)
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    for pixels, length_mm in zip(png_size(png), (music.width_mm, music.height_mm), strict=True):
        assert pixels == pytest.approx((length_mm + 2 * MARGIN_MM) / MM_PER_INCH * PIXELS_PER_INCH, abs=1)


def test_a_page_of_music_is_as_large_as_the_music_with_its_margin(music: Engraving) -> None:
    box = re.findall(rb"/MediaBox\s*\[([^\]]+)\]", unpack(pdf_of(music)))[0]
    _, _, width, height = (float(number) for number in box.split())
    assert width == pytest.approx((music.width_mm + 2 * MARGIN_MM) / MM_PER_INCH * 72, abs=0.1)
    assert height == pytest.approx((music.height_mm + 2 * MARGIN_MM) / MM_PER_INCH * 72, abs=0.1)


def test_the_faces_are_ours(music: Engraving) -> None:
    found = faces(pdf_of(music))
    assert any(face.startswith("SourceSerifPro") for face in found)
    assert any(face.startswith("SourceSansPro") for face in found)
    assert all(face.startswith(("SourceSerifPro", "SourceSansPro")) for face in found)


def test_music_stays_vectors(music: Engraving) -> None:
    assert b"/Subtype/Image" not in unpack(pdf_of(music)).replace(b" ", b"")


def test_a_title_goes_into_the_page(music: Engraving) -> None:
    assert pdf_of(music, "Flam tap") != pdf_of(music, "Drag")


@pytest.mark.parametrize("title", ['#panic("x") *b* $x$ @here <label>', "½ – é", "\\", ""])
def test_no_text_is_taken_for_markup(title: str) -> None:
    assert typeset(PAGE, {"title": title}, {}).startswith(b"%PDF-")


def test_pages_are_pictures_in_order() -> None:
    two = PAGE + "#pagebreak()\n#box(width: 10mm, height: 10mm, fill: black)"
    first, second = typeset_pictures(two, {"title": "One"}, {})
    assert first != second
    assert png_size(first) == png_size(second)
    assert len(typeset_pictures(PAGE, {"title": "One"}, {})) == 1


def test_a_page_that_can_t_be_set_is_an_error_of_ours() -> None:
    with pytest.raises(OutputError, match=r"^The page can't be set: "):
        typeset("#nothing-of-this-name()", {}, {})


def test_a_drawing_that_is_none_is_an_error_of_ours() -> None:
    with pytest.raises(OutputError, match=r"^The page can't be set: "):
        make_pdf("no drawing", width_mm=10, height_mm=10)
