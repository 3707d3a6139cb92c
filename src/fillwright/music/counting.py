"""Places in the bar as players count them: "2" a beat, "2&" its second half, "3trip" and "3let" its thirds."""

from __future__ import annotations

import re
from fractions import Fraction

from fillwright.errors import CountError
from fillwright.music.meter import Meter
from fillwright.music.stroke import Level

_QUARTERS = {"": Fraction(0), "e": Fraction(1, 4), "&": Fraction(1, 2), "a": Fraction(3, 4)}
_THIRDS = {"trip": Fraction(1, 3), "let": Fraction(2, 3)}
_PLACE = re.compile(r"(\()?(\d+)?(trip|let|e|&|a)?(>)?(\))?")


def parse_places(text: str, meter: Meter) -> tuple[tuple[Fraction, Level], ...]:
    """Read places in a bar, each with its level.

    Grammar: places separated by spaces. A place is a count (`3`), a part of the count last named (`e`, `&`,
    `a`, `trip`, `let`), or both together (`3a`); `>` after it makes an accent, round brackets a ghost note.
    Counts are quarters, or eighths in meters over eight, whose only part is `&`.

    Returns:
        Pairs of the place in whole notes from the start of the bar and the level.

    Raises:
        CountError: naming the place that can't be read.

    >>> from fillwright.music.meter import meter
    >>> [(str(at), level.value) for at, level in parse_places("1> & (2a)", meter("4/4"))]
    [('0', 'accent'), ('1/8', 'tap'), ('7/16', 'ghost')]
    """
    places = []
    count = 1
    unit = Fraction(1, meter.denominator)
    for word in text.split():
        match = _PLACE.fullmatch(word)
        if match is None or not (match[2] or match[3]) or bool(match[1]) != bool(match[5]):
            raise CountError(
                f'"{word}" in "{text}" is not a place in the bar; write for example 2, 2&, 2a, 3trip or (2e).'
            )
        count = int(match[2]) if match[2] else count
        part = {**_QUARTERS, **_THIRDS}[match[3] or ""]
        if not 1 <= count <= meter.numerator:
            raise CountError(f'"{word}" in "{text}": a bar of {meter.name} has counts 1 to {meter.numerator}.')
        level = Level.ACCENT if match[4] else Level.GHOST if match[1] else Level.TAP
        places.append(((count - 1 + part) * unit, level))
    if not places:
        raise CountError('There are no places; write for example "1 & 2 & 3 & 4 &".')
    return tuple(places)


def count_words(meter: Meter, places: tuple[Fraction, ...]) -> tuple[str, ...]:
    """The word a player says at each place of one bar; "" where nobody says one.

    Args:
        meter: the meter of the bar.
        places: places of strokes in whole notes from the start of the bar, ascending.

    >>> from fillwright.music.meter import meter
    >>> count_words(meter("4/4"), tuple(Fraction(n, 16) for n in range(4)))
    ('1', 'e', '&', 'a')
    >>> count_words(meter("4/4"), tuple(Fraction(n, 12) for n in range(3)))
    ('1', 'trip', 'let')
    >>> count_words(meter("6/8"), tuple(Fraction(n, 8) for n in range(6)))
    ('1', '2', '3', '4', '5', '6')
    """
    unit = Fraction(1, meter.denominator)
    by_count: dict[int, list[Fraction]] = {}
    for place in places:
        count, part = divmod(place / unit, 1)
        by_count.setdefault(int(count), []).append(part)
    words = []
    for count, parts in by_count.items():
        table = _part_words(parts, eighths=meter.counts_eighths)
        words += [str(count + 1) if part == 0 else table.get(part, "") for part in parts]
    return tuple(words)


def _part_words(parts: list[Fraction], *, eighths: bool) -> dict[Fraction, str]:
    if eighths:
        return {Fraction(1, 2): "&"}
    if any(part.denominator % 3 == 0 for part in parts):
        if all(part.denominator in (1, 3) for part in parts):
            return {Fraction(1, 3): "trip", Fraction(2, 3): "let"}
        return _SIXTHS
    return {part: word for word, part in _QUARTERS.items()}


_SIXTHS = {
    Fraction(1, 6): "trip",
    Fraction(1, 3): "let",
    Fraction(1, 2): "&",
    Fraction(2, 3): "trip",
    Fraction(5, 6): "let",
}
"""Six to a beat, said as two triplets (common practice, no source)."""
