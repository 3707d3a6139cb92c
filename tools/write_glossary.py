"""Write docs/glossary.md from the glossary's table: `python tools/write_glossary.py`."""

from __future__ import annotations

from pathlib import Path

from fillwright.lesson.glossary import format_glossary

PATH = Path(__file__).parents[1] / "docs" / "glossary.md"


def main() -> None:
    """Write the page."""
    PATH.write_text(format_glossary(), "utf-8")
    print(PATH)


if __name__ == "__main__":
    main()
