"""Figures: short sequences of strokes with hands and no drums."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from fillwright.music.sticking import format_sticking
from fillwright.music.stroke import Limb, Slot, mirror


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm:
    """One way to play a figure in time.

    Attributes:
        name: as a drummer says it, "sixteenths" or "a sixteenth-note triplet and an eighth".
        lengths: length of each place of the figure, in whole notes.
        rebarred: True where it takes the figure out of its own feel (flam accents in sixteenths).
    """

    name: str
    lengths: tuple[Fraction, ...]
    rebarred: bool = False

    @property
    def length(self) -> Fraction:
        """Length of one repetition of the figure, in whole notes."""
        return sum(self.lengths, Fraction(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A rudiment, or a figure that the teacher wrote.

    Attributes:
        name: "single paradiddle".
        group: the group teachers put it in: "single strokes", "double strokes", "diddles", "flams", "drags",
            "bounces", or "own" for a teacher's figure.
        strokes: right lead; None for a rest.
        rhythms: the ways it is played in time, the most usual first.
        alternates: True where each repetition starts with the other hand.
        family: its family on the official rudiment sheet; "" for a figure that is not on it.
        sheet: its number on the sheet; 0 for a figure that is not on it.
        aliases: other names the trade uses.
        cue: words to say while playing it, one per place, or empty.
    """

    name: str
    group: str
    strokes: tuple[Slot, ...]
    rhythms: tuple[Rhythm, ...]
    alternates: bool = False
    family: str = ""
    sheet: int = 0
    aliases: tuple[str, ...] = ()
    cue: tuple[str, ...] = ()

    def lead_with(self, lead: Limb) -> tuple[Slot, ...]:
        """Return the strokes with that hand leading."""
        return self.strokes if lead is self.lead else mirror(self.strokes)

    @property
    def lead(self) -> Limb:
        """Hand of the first stroke as the figure is written."""
        return next(slot.hand for slot in self.strokes if slot)

    @property
    def main_strokes(self) -> int:
        """Number of its strokes, grace notes not counted."""
        return sum(slot is not None for slot in self.strokes)

    @property
    def sticking(self) -> str:
        """Sticking text with the right hand leading."""
        return format_sticking(self.lead_with(Limb.RIGHT))

    @property
    def sticking_left(self) -> str:
        """Sticking text with the left hand leading."""
        return format_sticking(self.lead_with(Limb.LEFT))
