"""A phrase in the terminal: hands on one line, the count below, bar by bar."""

from __future__ import annotations

from fractions import Fraction

from fillwright.music.counting import name_counts
from fillwright.music.phrase import Phrase
from fillwright.music.sticking import format_slot


def format_notation(phrase: Phrase) -> str:
    """Format the strokes of the hands with the count below, two lines for each bar; "+" joins two at once.

    >>> from fillwright.craft.rudiment_sheet import build_sheet_phrase
    >>> from fillwright.music.rudiments import find_figure
    >>> print(format_notation(build_sheet_phrase(find_figure("flam accent"))))
    lR> L    R   | rL> R    L   |
    1   trip let | 2   trip let |
    """
    lines = []
    for bar in phrase.bars:
        together: dict[Fraction, list[str]] = {}
        for hit in bar.hits:
            if not hit.stroke.hand.is_foot:
                together.setdefault(hit.at, []).append(format_slot(hit.stroke))
        words = name_counts(phrase.meter, tuple(together))
        cells: list[tuple[str, str]] = []
        for (at, strokes), word in zip(together.items(), words, strict=True):
            if cells and at in phrase.meter.beat_starts:
                cells.append(("|", "|"))
            cells.append(("+".join(strokes), word))
        cells.append(("|", "|"))
        widths = [max(map(len, cell)) for cell in cells]
        for row in (0, 1):
            padded = (cell[row].ljust(width) for cell, width in zip(cells, widths, strict=True))
            lines.append(" ".join(padded).rstrip())
    return "\n".join(lines)
