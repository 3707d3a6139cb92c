"""Handout, run sheet and single fills as another program reads their pages.

Source: pypdf
Source: ISO 216 (A4; from memory)
Source: ANSI/ASME Y14.1 (letter, size A; from memory)
Source: ISO 32000 (PDF: units of 1/72 inch, font files inside; from memory)
"""

import io

import pytest
from pypdf import PdfReader

from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.pack.contents import list_recipes

TEXT = """number = 3
title = "Größe – 3½ beats, “quoted”"
teacher = "Žofie"
tempo = 90
page = "{page}"
level = "gigging"

[[figure]]
name = "single ratamacue"
steps = ["last beat", "whole bar"]
"""
SIZES_INCH = {"a4": (210 / 25.4, 297 / 25.4), "letter": (8.5, 11)}


@pytest.fixture(scope="module", params=SIZES_INCH)
def pack(request):
    """Paper and every PDF of a pack by its path."""
    lesson = parse_lesson(TEXT.format(page=request.param))
    made = list_recipes(lesson, build_fills(lesson).fills, "")
    return request.param, {
        path: content
        for recipe in made
        if not recipe.heavy
        for path, content in zip(recipe.paths, recipe.make(), strict=True)
        if path.endswith(".pdf")
    }


def readers(pack):
    return {path: PdfReader(io.BytesIO(content), strict=True) for path, content in pack[1].items()}


def fonts_of(page):
    """Every font of a page and of the drawings on it, by its name."""
    found = {}

    def collect(resources):
        for link in resources.get("/Font", {}).values():
            font = link.get_object()
            inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
            found[font["/BaseFont"]] = inner["/FontDescriptor"].get_object()
        for form in resources.get("/XObject", {}).values():
            if "/Resources" in form.get_object():
                collect(form.get_object()["/Resources"])

    collect(page["/Resources"])
    return found


def test_there_are_a_handout_a_run_sheet_and_a_page_for_every_fill(pack):
    assert sorted(path.split("/")[-1][:3] for path in pack[1]) == ["01-", "02-", "han", "run"]


@pytest.mark.parametrize("name", ["handout.pdf", "run-sheet.pdf"])
def test_pages_have_the_size_of_the_paper(pack, name):
    size, _ = pack
    for page in readers(pack)[name].pages:
        wanted = [72 * inch for inch in SIZES_INCH[size]]
        assert [float(page.mediabox.width), float(page.mediabox.height)] == pytest.approx(wanted, abs=0.5)
        assert page.get("/Rotate", 0) == 0


def test_a_fill_of_its_own_is_one_page_as_wide_as_the_music(pack):
    for path, reader in readers(pack).items():
        if path.startswith("fills/"):
            (page,) = reader.pages
            assert 150 < float(page.mediabox.width) / 72 * 25.4 < 216


def test_every_font_is_inside(pack):
    for path, reader in readers(pack).items():
        fonts = {name: font for page in reader.pages for name, font in fonts_of(page).items()}
        assert fonts, path
        for name, descriptor in fonts.items():
            assert "Source" in name, f"{name} is none of our faces"
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & descriptor.keys(), f"{name} is not in {path}"


def test_no_page_says_when_it_was_made(pack):
    for path, reader in readers(pack).items():
        assert not {"/CreationDate", "/ModDate"} & (reader.metadata or {}).keys(), path
        xmp = reader.xmp_metadata
        assert xmp is None or (xmp.xmp_create_date, xmp.xmp_modify_date, xmp.xmp_metadata_date) == (None,) * 3


def test_titles_and_teacher_stand_in_the_properties(pack):
    found = {path.split("/")[-1][:3]: reader.metadata for path, reader in readers(pack).items()}
    assert found["han"].title == "Größe – 3½ beats, “quoted”"
    assert found["han"].author == "Žofie"
    assert found["run"].title == "Run sheet: Größe – 3½ beats, “quoted”"
    assert found["01-"].title == "Single ratamacue: Last beat, all on the snare"


def test_text_can_be_selected(pack):
    read = readers(pack)
    first = " ".join(read["handout.pdf"].pages[0].extract_text().split())
    for words in (
        "Größe – 3½ beats, “quoted”",
        "Lesson 3 · Žofie",
        "1 Last beat, all on the snare",
        "2 Whole bar, all on the snare",
    ):
        assert words in first
    for path, reader in read.items():
        if path.startswith("fills/"):
            assert "R L R L" in " ".join(reader.pages[0].extract_text().split())


def test_handouts_are_read_aloud_in_order(pack):
    """The pages carry their structure, as screen readers need it."""
    catalogue = readers(pack)["handout.pdf"].trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"]
    assert catalogue["/Lang"] == "en"
