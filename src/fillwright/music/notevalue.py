"""Note values as the trade says them: 8 an eighth, 16t a sixteenth of a triplet, 4. a dotted quarter."""

from __future__ import annotations

import re
from fractions import Fraction

from fillwright.errors import StickingError

_VALUE = re.compile(r"(1|2|4|8|16|32)(t|\.)?")
_MAX_VALUES = 512  # note values in one text, more than any figure needs; ours, not measured
_FACTORS = {None: Fraction(1), "t": Fraction(2, 3), ".": Fraction(3, 2)}  # on the plain value

SUBDIVISIONS = {
    "quarters": Fraction(1, 4),
    "eighths": Fraction(1, 8),
    "triplets": Fraction(1, 12),
    "sixteenths": Fraction(1, 16),
    "sextuplets": Fraction(1, 24),
    "thirty-seconds": Fraction(1, 32),
}
"""The even subdivisions by name, each stroke's length in whole notes."""


def parse_values(text: str) -> tuple[Fraction, ...]:
    """Read note values and return their lengths in whole notes.

    Grammar: values separated by spaces; a value is 1, 2, 4, 8, 16 or 32, then `t` for a triplet's or `.` for
    a dotted one.

    Raises:
        StickingError: naming the value that can't be read.

    >>> [str(v) for v in parse_values("16t 16t 16t 8")]
    ['1/24', '1/24', '1/24', '1/8']
    """
    words = text.split()
    if len(words) > _MAX_VALUES:
        raise StickingError(f"There are {len(words)} note values; at most {_MAX_VALUES} can be read.")
    values = []
    for number, word in enumerate(words, start=1):
        match = _VALUE.fullmatch(word)
        if match is None:
            raise StickingError(
                f'"{word[:20]}" (value {number} of "{text[:40]}") is not a note value; '
                "write 1, 2, 4, 8, 16 or 32, with t for triplets or a dot."
            )
        values.append(Fraction(1, int(match[1])) * _FACTORS[match[2]])
    if not values:
        raise StickingError('There are no note values; write for example "16 16 16 16".')
    return tuple(values)


def format_value(value: Fraction) -> str:
    """Write a length in whole notes as one note value.

    >>> format_value(Fraction(1, 24)), format_value(Fraction(3, 8))
    ('16t', '4.')
    """
    for mark, factor in _FACTORS.items():
        base = value / factor
        if base.numerator == 1 and _VALUE.fullmatch(str(base.denominator)):
            return f"{base.denominator}{mark or ''}"
    return f"{value} of a whole note"


NUMBERS = tuple("two three four five six seven eight nine ten eleven twelve".split())
"""Numbers that are written as words, from two on."""


def write_number(number: int) -> str:
    """Write a whole number as a sentence has it: small ones as words.

    >>> write_number(2), write_number(13)
    ('two', '13')
    """
    return NUMBERS[number - 2] if 2 <= number < len(NUMBERS) + 2 else str(number)


def format_beats(beats: Fraction) -> str:
    """Write a number of beats as a drummer says it.

    >>> [format_beats(Fraction(beats)) for beats in ("1", "5/2", "3/4", "7/3")]
    ['1 beat', '2½ beats', '¾ beat', '2⅓ beats']
    """
    signs = {
        Fraction(1, 2): "½",
        Fraction(1, 4): "¼",
        Fraction(3, 4): "¾",
        Fraction(1, 3): "⅓",
        Fraction(2, 3): "⅔",
    }
    full_beats, part = divmod(beats, 1)
    number = f"{full_beats or ''}{signs.get(part, '')}" or "0"
    if part and part not in signs:
        number = str(beats)
    return f"{number} {'beat' if 0 < beats <= 1 else 'beats'}"
