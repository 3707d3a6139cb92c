"""The counts below the music, and whether they keep apart.

A count is centred below its note head, so the engraver's own drawing already gives its place. It is searched as
text: a drawing that turns out too narrow is engraved again, and need not be parsed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from itertools import pairwise

from fillwright.score.engraving.drawing import HEAD_WIDTH

COUNT_SIZE = 285.0
"""Size of a count, in drawing units (ours, not measured)."""

_LETTER = 0.5  # width of a letter of a count, as a share of its size (ours, not measured)
_GAP = 70.0  # drawing units; closer than this, two counts read as one (ours, not measured)
_HEAD = re.compile(
    r'<g id="(b\d+[hf]\d+-\d+)" class="(?:note|chord)".*?class="notehead".*?translate\((-?[\d.]+),', re.DOTALL
)


def counts_touch(drawing: str, words: Mapping[str, str], *, gap: float = _GAP) -> bool:
    """Return True if two counts of a drawing are so close that they read as one.

    Args:
        drawing: as the engraver made it.
        words: the count below each counted note, by the note's id.
        gap: the least room between two counts, in drawing units.
    """
    return any(
        right - left < (len(first) + len(second)) * COUNT_SIZE * _LETTER / 2 + gap
        for row in find_counts(drawing, words)
        for (left, first), (right, second) in pairwise(row)
    )


def find_counts(drawing: str, words: Mapping[str, str]) -> Iterator[list[tuple[float, str]]]:
    """Yield for each line of music its counts from left to right: the middle in drawing units, and the word.

    Args:
        drawing: as the engraver made it.
        words: the count below each counted note, by the note's id.
    """
    for system in drawing.split('class="system"')[1:]:
        heads = ((float(x) + HEAD_WIDTH / 2, words.get(note, "")) for note, x in _HEAD.findall(system))
        yield sorted((middle, word) for middle, word in heads if word)
