"""Every file of notation/ asks for a fill, then a line of five equal signs, then how it is written.

A line of the answer is a voice of a bar, beat by beat. A note is its value with its dot and a letter for each
surface, from the lowest head up; small letters before it are its grace notes; behind it stand `>` for an
accent, `z` for a buzz and `/` for each stroke through the stem; `( )` stand round a ghost note. `r` is a rest,
`s` a hidden one, `3[ ]` a tuplet, `%` a bar like the one before. The words are hands and counts.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from fillwright.lesson.single_fill import FillChoice, make_single_fill
from fillwright.music.stroke import Kind, Level, Limb
from fillwright.score.sheet import Sheet, spell_graces
from fillwright.score.written import Item, Note, Rest, Tuplet, Voice, WrittenBar

CASES = sorted(Path(__file__).with_name("notation").glob("*.txt"))
LETTERS = {
    "snare": "S",
    "rim": "X",
    "high tom": "H",
    "mid tom": "M",
    "floor tom": "F",
    "hi-hat": "h",
    "ride bow": "D",
    "crash": "C",
    "second crash": "E",
    "kick": "K",
    "foot hi-hat": "P",
}


def read_question(text: str) -> Sheet:
    """Return the sheet of a line such as `"flam tap" beats=2 groove=shuffle rolls=short`."""
    figure, *options = shlex.split(text)
    settings = dict(option.split("=") for option in options)
    rolls = settings.pop("rolls", "written")
    beats = settings.pop("beats", None)
    fill = make_single_fill(
        FillChoice(
            figure=figure,
            beats=Fraction(beats) if beats else None,
            bars=int(settings.pop("bars", "1")),
            lead=Limb(settings.pop("lead", "R")),
            **settings,
        )
    )
    return Sheet(phrase=fill.phrase, short_rolls=rolls == "short")


def format_sheet(sheet: Sheet) -> str:
    return "\n".join(line for bar in sheet.bars() for line in format_bar(sheet, bar)) + "\n"


def format_bar(sheet: Sheet, bar: WrittenBar) -> Iterator[str]:
    if sheet.is_repeat(bar):
        yield f"{bar.number} %"
        return
    yield f"{bar.number} hands {format_voice(bar.hands)}"
    yield f"{bar.number} feet  {format_voice(bar.feet)}"
    counts = sheet.words(bar)
    mine = tuple(bar.hands.notes())
    words = [f"{hand} {counts.get(note.at, '')}".strip() for note, hand in sheet.stickings() if note in mine]
    if words:
        yield f"{bar.number} words {', '.join(words)}"


def format_voice(voice: Voice) -> str:
    return " | ".join(" ".join(format_item(item) for item in beat) for beat in voice.beats)


def format_item(item: Item) -> str:
    if isinstance(item, Tuplet):
        return f"{item.actual}[{' '.join(format_item(inner) for inner in item.items)}]"
    value = f"{item.value}{'.' * item.dots}"
    if isinstance(item, Rest):
        return f"{'s' if item.hidden else 'r'}{value}"
    return format_note(item, value)


def format_note(note: Note, value: str) -> str:
    heads = "".join(LETTERS[hit.surface.name] for hit in note.hits)
    accent = ">" if any(hit.stroke.level is Level.ACCENT for hit in note.hits) else ""
    buzz = "z" if any(hit.stroke.kind is Kind.BUZZ for hit in note.hits) else ""
    word = f"{''.join(spell_graces(note))}{value}{heads}{accent}{buzz}{'/' * note.slashes}"
    return f"({word})" if all(hit.stroke.level is Level.GHOST for hit in note.hits) else word


def test_cases_are_found() -> None:
    assert len(CASES) >= 15


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.stem)
def test_notation(case: Path) -> None:
    question, answer = case.read_text("utf-8").split("=====\n")
    assert format_sheet(read_question(question.strip())) == answer
