"""Sticking text, as the trade writes it: `R L R R`, `lR` a flam, `>` an accent, `( )` a ghost note."""

from __future__ import annotations

import re
from collections.abc import Callable

from fillwright.errors import StickingError
from fillwright.music.stroke import Kind, Level, Limb, Slot, Stroke

_ALLOWED = (
    "R or L; lR for a flam, llR for a drag, > after it for an accent, "
    "( ) round it for a ghost note, z after it for a buzz, - for a rest"
)
_STROKE = re.compile(r"(?P<open>\()?(?P<graces>[rl]*)(?P<hand>[RL])(?P<marks>[>z]*)(?P<close>\))?")
_MAX_STROKES = 512  # in one text, more than any figure needs; ours, not measured


def parse_sticking(text: str) -> tuple[Slot, ...]:
    """Read a sticking text.

    Grammar: strokes separated by spaces (`|` and commas may stand between them). A stroke is `R` or `L`; small
    letters before it are its grace notes by the other hand, one for a flam, two for a drag; after it `>` marks
    an accent and `z` a buzz; round brackets make it a ghost note; `-` is a rest.

    Returns:
        One stroke, or None for a rest, per place.

    Raises:
        StickingError: with the stroke that can't be read and its number.

    >>> [s.kind.value for s in parse_sticking("lR L> R")]
    ['flam', 'single', 'single']
    """
    words = text.replace(",", " ").replace("|", " ").split()
    if not words:
        raise StickingError(f"The sticking is empty; write {_ALLOWED}.")
    if len(words) > _MAX_STROKES:
        raise StickingError(f"The sticking has {len(words)} strokes; at most {_MAX_STROKES} can be read.")
    shown = " ".join(words)
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    slots = tuple(_parse_word(word, number, shown) for number, word in enumerate(words, start=1))
    if not any(slots):
        raise StickingError(f'The sticking "{shown}" has rests only; write at least one stroke.')
    return slots


def _parse_word(word: str, number: int, shown: str) -> Slot:
    if word == "-":
        return None

    def refuse(why: str) -> StickingError:
        return StickingError(f'Stroke {number} of "{shown}" is "{word[:20]}": {why}.')

    match = _STROKE.fullmatch(word)
    if match is None and word in ("r", "l"):
        raise refuse("write a stroke with a capital, R or L; small letters are grace notes, as in lR")
    if match is None and re.fullmatch(r"(?:[rl]*[RL][>z]*){2,}", word):
        raise refuse("put a space between strokes, as in R L R R")
    if match is None:
        raise refuse(f"it is not a stroke; write {_ALLOWED}")
    if bool(match["open"]) != bool(match["close"]):
        raise refuse("write both brackets of a ghost note, as in (L)")
    hand = Limb(match["hand"])
    kind = _kind(match["graces"], match["marks"], hand, refuse)
    accented = ">" in match["marks"]
    if accented and match["open"]:
        raise refuse("it can't be both an accent and a ghost note; write > or ( )")
    level = Level.ACCENT if accented else Level.GHOST if match["open"] else Level.TAP
    return Stroke(hand=hand, kind=kind, level=level)


def _kind(graces: str, marks: str, hand: Limb, refuse: Callable[[str], StickingError]) -> Kind:
    if len(marks) != len(set(marks)):
        raise refuse("write each mark once")
    if graces and set(graces) != {hand.other.value.lower()}:
        raise refuse(f"the other hand plays the grace notes; write {hand.other.value.lower()}{hand.value}")
    if len(graces) > 2:
        raise refuse("write one grace note for a flam or two for a drag")
    if graces and "z" in marks:
        raise refuse("a buzz can't have grace notes; leave out the z or the small letters")
    if "z" in marks:
        return Kind.BUZZ
    return (Kind.SINGLE, Kind.FLAM, Kind.DRAG)[len(graces)]


def format_slot(slot: Slot) -> str:
    """Write one stroke or rest of a sticking as text.

    >>> format_slot(Stroke(hand=Limb.LEFT, kind=Kind.DRAG, level=Level.ACCENT))
    'rrL>'
    """
    if slot is None:
        return "-"
    graces = slot.hand.other.value.lower() * slot.kind.graces
    buzz = "z" if slot.kind is Kind.BUZZ else ""
    accent = ">" if slot.level is Level.ACCENT else ""
    word = f"{graces}{slot.hand.value}{buzz}{accent}"
    return f"({word})" if slot.level is Level.GHOST else word


def format_sticking(slots: tuple[Slot, ...]) -> str:
    """Write a sticking as text; reading it back gives the same strokes.

    >>> format_sticking(parse_sticking("lR>, L | - (R) Lz"))
    'lR> L - (R) Lz'
    """
    return " ".join(format_slot(slot) for slot in slots)
