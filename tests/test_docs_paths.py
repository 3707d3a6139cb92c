"""Files and modules that the docs and the packages' READMEs name are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "fillwright"
PAGES = sorted([*(ROOT / "docs").rglob("*.md"), ROOT / "README.md", *SOURCE.rglob("README.md")])
NAMED = re.compile(r"`((?:[a-z_0-9-]+/)*[a-z_0-9-]+\.(?:py|toml|typ|mjs|html|css)|(?:[a-z_0-9]+/)+)`")
OF_A_USER = frozenset("lesson.toml sounds.toml practice.html TABLE.toml students.toml".split())
"""Files of a user or of a pack, which the docs name too."""


def places(page: Path) -> list[Path]:
    """Return the folders that a page's names may start from: its own, the sources, the repository."""
    return [page.parent, SOURCE, ROOT, *(folder for folder in SOURCE.iterdir() if folder.is_dir())]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_file_that_a_page_names_is_there(page: Path) -> None:
    text = re.sub(r"^```.*?^```", "", page.read_text("utf-8"), flags=re.DOTALL | re.MULTILINE)
    names = set(NAMED.findall(text)) - OF_A_USER
    files = {path.name for part in ("src", "tests", "tools", "bench") for path in (ROOT / part).rglob("*.*")}
    found = {name for name in names if any((place / name).exists() for place in places(page))}
    missing = {name for name in names - found if "/" in name or name not in files}
    assert not missing


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_of_a_page_leads_to_a_file(page: Path) -> None:
    links = re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", page.read_text("utf-8"))
    assert not [link for link in links if not (page.parent / link).exists()]


@pytest.mark.parametrize("folder", sorted({path.parent for path in SOURCE.rglob("*.py")}), ids=str)
def test_every_package_has_a_readme_of_five_to_fifteen_lines(folder: Path) -> None:
    if "migrations" in folder.parts or folder == SOURCE:
        return
    lines = [line for line in (folder / "README.md").read_text("utf-8").split("\n") if line.strip()]
    assert 3 <= len(lines) <= 15
