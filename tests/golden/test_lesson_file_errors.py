"""Every file of lesson-file/ is a lesson text, a line of five equal signs, and the message it must give."""

from pathlib import Path

import pytest

from fillwright.errors import TableError
from fillwright.lesson.file import parse_lesson

CASES = sorted(Path(__file__).with_name("lesson-file").glob("*.txt"))


def test_cases_are_found():
    assert len(CASES) > 40


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.stem)
def test_message(case):
    text, expected = case.read_text("utf-8").split("=====\n")
    with pytest.raises(TableError, match=r"^lesson\.toml") as caught:
        parse_lesson(text)
    assert str(caught.value) == expected.rstrip("\n")


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.stem)
def test_every_line_of_a_message_names_the_file_and_its_own_line(case):
    text, expected = case.read_text("utf-8").split("=====\n")
    for told in expected.splitlines():
        if "is empty" in told:
            continue
        line = int(told.removeprefix("lesson.toml, line ").split(",")[0].split(":")[0])
        assert 1 <= line <= text.count("\n") + 1
