"""Every source that a test names stands in docs/sources.md, and every source there is named by its tests."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
OUTSIDE = sorted((ROOT / "tests" / "outside").glob("test_*.py"))


def sources_of(file: Path) -> set[str]:
    """The sources in a test file's first docstring, without their brackets."""
    docstring = ast.get_docstring(ast.parse(file.read_text("utf-8"))) or ""
    return {found.strip() for found in re.findall(r"^Source: ([^(\n]+)", docstring, re.MULTILINE)}


def listed() -> dict[str, set[str]]:
    """The sources on the page, each with the test files of its row."""
    rows = re.findall(
        r"^\| \*\*(.+?)\*\* \|.*\|([^|]*)\|$", (ROOT / "docs/sources.md").read_text("utf-8"), re.MULTILINE
    )
    return {name: set(re.findall(r"`(test_\w+\.py)`", tests)) for name, tests in rows}


@pytest.mark.parametrize("file", OUTSIDE, ids=lambda file: file.name)
def test_a_check_against_the_outside_names_its_sources_and_the_page_lists_them(file: Path) -> None:
    named = sources_of(file)
    assert named, f"{file.name} names no source; write a line `Source: ...` in its first docstring"
    missing = {source for source in named if file.name not in listed().get(source, set())}
    assert not missing, f"docs/sources.md has no row for {missing} that ends with `{file.name}`"


@pytest.mark.parametrize(
    ("source", "tests"), listed().items(), ids=lambda value: value if isinstance(value, str) else ""
)
def test_a_listed_source_is_named_by_the_tests_of_its_row(source: str, tests: set[str]) -> None:
    assert tests, f"the row of {source} names no test"
    for name in tests:
        assert source in sources_of(ROOT / "tests" / "outside" / name)
