"""Counts: the places in a bar as players say them, "2" a beat, "2&" its second half, "3let" its last third."""

from __future__ import annotations

import re
from fractions import Fraction

from fillwright.errors import CountError
from fillwright.music.meter import Meter
from fillwright.music.stroke import Level

# parts of a count as players say them (common practice, no source)
_QUARTERS = {"": Fraction(0), "e": Fraction(1, 4), "&": Fraction(1, 2), "a": Fraction(3, 4)}
_PARTS = {**_QUARTERS, "trip": Fraction(1, 3), "let": Fraction(2, 3)}  # and the thirds
_PLACE = re.compile(r"(\()?([0-9]{1,3})?(trip|let|e|&|a)?(>)?(\))?")


def parse_places(text: str, meter: Meter) -> tuple[tuple[Fraction, Level], ...]:
    """Read counts as places in a bar, each with its dynamics.

    Grammar: places separated by spaces. A place is a count (`3`), a part of the count last named (`e`, `&`,
    `a`, `trip`, `let`), or both together (`3a`); `>` after it makes an accent, round brackets a ghost note.
    Counts are quarters, or eighths in meters over eight, whose only part is `&`. Each place is written once.

    Returns:
        Pairs of a place, in whole notes from the start of the bar, and its dynamics.

    Raises:
        CountError: with the place that can't be read.

    >>> from fillwright.music.meter import find_meter
    >>> [(str(at), level.value) for at, level in parse_places("1> & (2a)", find_meter("4/4"))]
    [('0', 'accent'), ('1/8', 'tap'), ('7/16', 'ghost')]
    """
    places: dict[Fraction, Level] = {}
    count = 1
    for word in text.split():
        match = _PLACE.fullmatch(word)
        if match is None or not (match[2] or match[3]) or bool(match[1]) != bool(match[5]):
            raise _refuse(word, text, "is not a place in the bar; write for example 2, 2&, 2a, 3trip or (2e)")
        if match[1] and match[4]:
            raise _refuse(word, text, "can't be both an accent and a ghost note; write > or ( )")
        count = int(match[2]) if match[2] else count
        if not 1 <= count <= meter.numerator:
            raise _refuse(
                word, text, f"is not in the bar; a bar of {meter.name} has counts 1 to {meter.numerator}"
            )
        if meter.counts_eighths and match[3] not in (None, "&"):
            raise _refuse(word, text, f"is not a count of {meter.name}; write a number alone or with &")
        at = (count - 1 + _PARTS[match[3] or ""]) * Fraction(1, meter.denominator)
        if at in places:
            raise _refuse(word, text, "is written twice; write each place once")
        places[at] = Level.ACCENT if match[4] else Level.GHOST if match[1] else Level.TAP
    if not places:
        raise CountError('There are no places; write for example "1 & 2 & 3 & 4 &".')
    return tuple(places.items())


def _refuse(word: str, text: str, why: str) -> CountError:
    shown = " ".join(text.split())
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    return CountError(f'"{word[:20]}" in "{shown}" {why}.')


def format_place(meter: Meter, at: Fraction) -> str:
    """Write a place in the bar as `parse_places` reads it.

    Args:
        meter: of the bar.
        at: the place, in whole notes from the start of the bar; it must have a name.

    >>> from fillwright.music.meter import find_meter
    >>> format_place(find_meter("4/4"), Fraction(5, 8)), format_place(find_meter("6/8"), Fraction(1, 8))
    ('3&', '2')
    """
    count, part = divmod(at * meter.denominator, 1)
    return f"{count + 1}{next(word for word, value in _PARTS.items() if value == part)}"


def name_counts(meter: Meter, places: tuple[Fraction, ...]) -> tuple[str, ...]:
    """Return the word that a player says at each place of one bar; "" where there is none.

    Args:
        meter: the meter of the bar.
        places: places of strokes in whole notes from the start of the bar, ascending.

    >>> from fillwright.music.meter import find_meter
    >>> name_counts(find_meter("4/4"), tuple(Fraction(n, 16) for n in range(4)))
    ('1', 'e', '&', 'a')
    >>> name_counts(find_meter("4/4"), tuple(Fraction(n, 12) for n in range(3)))
    ('1', 'trip', 'let')
    >>> name_counts(find_meter("6/8"), tuple(Fraction(n, 8) for n in range(6)))
    ('1', '2', '3', '4', '5', '6')
    """
    unit = Fraction(1, meter.denominator)
    by_count: dict[int, list[Fraction]] = {}
    for at in places:
        count, part = divmod(at / unit, 1)
        by_count.setdefault(int(count), []).append(part)
    names = []
    for count, parts in by_count.items():
        table = _part_words(parts, eighths=meter.counts_eighths)
        names += [str(count + 1) if part == 0 else table.get(part, "") for part in parts]
    return tuple(names)


def _part_words(parts: list[Fraction], *, eighths: bool) -> dict[Fraction, str]:
    if eighths:
        return {Fraction(1, 2): "&"}
    thirds = {Fraction(1, 3): "trip", Fraction(2, 3): "let"}
    if any(part.denominator % 3 == 0 for part in parts):
        in_threes = thirds.keys() <= set(parts) and not _SIXTHS.keys() <= set(parts)
        return thirds if in_threes or all(part.denominator in (1, 3) for part in parts) else _SIXTHS
    return {part: word for word, part in _QUARTERS.items()}


_SIXTHS = {
    Fraction(1, 6): "trip",
    Fraction(1, 3): "let",
    Fraction(1, 2): "&",
    Fraction(2, 3): "trip",
    Fraction(5, 6): "let",
}
"""Six to a beat, said as two triplets (common practice, no source)."""
