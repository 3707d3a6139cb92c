"""A phrase in the terminal: hands on one line, the count below, bar by bar."""

from __future__ import annotations

from fillwright.music.counting import count_words
from fillwright.music.phrase import Phrase
from fillwright.music.sticking import format_slot


def text_notation(phrase: Phrase) -> str:
    """The strokes of the hands with the count below, a pair of lines for each bar.

    >>> from fillwright.craft.alone import figure_phrase
    >>> from fillwright.music.rudiments import find_figure
    >>> print(text_notation(figure_phrase(find_figure("flam accent"))))
    lR> L    R   | rL> R    L   |
    1   trip let | 2   trip let |
    """
    lines = []
    for bar in phrase.bars:
        hits = [hit for hit in bar.hits if not hit.stroke.hand.is_foot]
        words = count_words(phrase.meter, tuple(hit.at for hit in hits))
        cells: list[tuple[str, str]] = []
        for hit, word in zip(hits, words, strict=True):
            if cells and hit.at in phrase.meter.beat_starts:
                cells.append(("|", "|"))
            cells.append((format_slot(hit.stroke), word))
        cells.append(("|", "|"))
        widths = [max(map(len, cell)) for cell in cells]
        for row in (0, 1):
            padded = (cell[row].ljust(width) for cell, width in zip(cells, widths, strict=True))
            lines.append(" ".join(padded).rstrip())
    return "\n".join(lines)
