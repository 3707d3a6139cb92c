"""The README's lesson builds, its commands exist, its pictures and pages are there."""

from __future__ import annotations

import re
from pathlib import Path

from fillwright.cli.main import COMMANDS
from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")


def test_the_lesson_in_the_readme_makes_fills() -> None:
    text = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)[0]
    held = build_fills(parse_lesson(text, "README.md"))
    assert len(held.fills) >= 8
    assert not held.left_out


def test_every_command_stands_in_the_readme() -> None:
    named = set(re.findall(r"`fillwright ([a-z]+)", README))
    assert named == set(COMMANDS)


def test_every_link_leads_somewhere() -> None:
    targets = re.findall(r"\]\(([^)]+)\)", README)
    assert targets
    for target in targets:
        assert (ROOT / target).exists(), target


def test_every_file_of_a_pack_is_named() -> None:
    section = README.split("## The files of a pack")[1]
    for name in (
        "handout.pdf",
        "practice.html",
        "run-sheet.pdf",
        "chapters.txt",
        "lesson.toml",
        "pack.json",
        "fills.json",
        "fills/",
    ):
        assert name in section
