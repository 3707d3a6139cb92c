"""Remainders: the rest of a span after a figure repeated as often as it fits, and ways to fill it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from fillwright.craft.chains.chain import (
    Chain,
    find_fitting_beats,
    fits_span,
    format_choice,
    format_length,
    repeat_figure,
)
from fillwright.craft.chains.readings import Reading, list_readings
from fillwright.craft.chains.rules import Filling, Rules, Tail, TailKind
from fillwright.craft.chains.space import ChainSpace
from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter
from fillwright.music.notevalue import format_value
from fillwright.music.phrase import Span
from fillwright.music.stroke import Limb, Stroke

STROKE = Figure(name="single stroke", group="own", strokes=(Stroke(hand=Limb.RIGHT),), rhythms=())
"""One stroke, for a remainder too short for a figure."""

_NAMES = {
    "1": "whole note",
    "2": "half note",
    "4": "quarter",
    "8": "eighth",
    "16": "sixteenth",
    "32": "thirty-second",
    "4t": "quarter-triplet",
    "8t": "eighth-triplet",
    "16t": "sixteenth-triplet",
    "32t": "thirty-second-triplet",
}
_NUMBERS = "no one two three four five six seven eight nine ten eleven twelve".split()


@dataclass(frozen=True, slots=True, kw_only=True)
class Remainder:
    """The rest of a span after a repeated figure.

    Attributes:
        figure: the repeated figure.
        rhythm: its rhythm.
        span: the span to fill.
        meter: of the phrase.
        statements: the number of whole repetitions that fit.
        length: length of the remainder, in whole notes; 0 for none.
    """

    figure: Figure
    rhythm: Rhythm
    span: Span
    meter: Meter
    statements: int
    length: Fraction

    @property
    def remaining_span(self) -> Span:
        """Part of the phrase that it takes."""
        return Span(start=self.span.end - self.length, length=self.length)

    @property
    def sentence(self) -> str:
        """Description in one sentence.

        >>> from fillwright.music.meter import find_meter
        >>> from fillwright.music.rudiments import find_figure
        >>> accents = find_figure("flam accent")
        >>> bar = Span(start=Fraction(3), length=Fraction(1))
        >>> print(find_remainder(accents, accents.rhythms[1], bar, find_meter("4/4")).sentence)
        Flam accent in sixteenths leaves one sixteenth of 4 beats after 5 repetitions; it fills 1½ or 3 beats.
        """
        name = f"{self.figure.name[:1].upper()}{self.figure.name[1:]} in {self.rhythm.name}"
        target = format_length(self.span.length, self.meter)
        if not self.length:
            return f"{name} fills {target} in {_format_repetitions(self.statements)}."
        fitting = self._describe_fitting_spans()
        if not self.statements:
            too_long = self.rhythm.length > self.span.length
            why = (
                f"one repetition takes {format_length(self.rhythm.length, self.meter)}"
                if too_long
                else "it can't be written from there"
            )
            return f"{name} does not fit into {target}: {why}{fitting}."
        left = _format_notes(self.length, min(self.rhythm.lengths))
        return f"{name} leaves {left} of {target} after {_format_repetitions(self.statements)}{fitting}."

    def _describe_fitting_spans(self) -> str:
        for bars in (1, 2, 4):
            spans = find_fitting_beats(self.rhythm, self.meter, bars=bars)
            if spans:
                return f"; it fills {format_choice(spans)}"
        return "; it fills no span up to four bars"

    def complete(
        self, figures: tuple[Figure, ...], *, lead: Limb = Limb.RIGHT, number: int = 3
    ) -> tuple[Filling, ...]:
        """Return ways to fill the span: the repetitions, then one stroke, a rest, a kick or readings.

        Args:
            figures: the figures that may fill the remainder.
            lead: the hand of the first stroke.
            number: the most ways that fill the remainder with readings, the best first.

        Returns:
            One stroke, a rest and a kick first, if a repetition precedes them and the remainder is one note.
        """
        if not self.length:
            return ()
        repeated = repeat_figure(self.figure, self.rhythm, self.statements, lead)
        hand = repeated.last_hand.other if self.statements else lead
        plain = self._complete_plainly(repeated, hand) if self.statements else ()
        rules = Rules(lead=hand)
        space = ChainSpace(self.remaining_span, self.meter, list_readings(figures, self.meter), rules)
        return plain + tuple(Filling(chain=repeated.then(more.chain)) for more in space.best(number))

    def _complete_plainly(self, repeated: Chain, hand: Limb) -> tuple[Filling, ...]:
        tails = tuple(
            Filling(chain=repeated, tail=Tail(kind=kind, length=self.length))
            for kind in (TailKind.REST, TailKind.KICK)
        )
        if format_value(self.length).rstrip(".") not in _NAMES:
            return tails
        stroke = Reading(figure=STROKE, lead=hand, lengths=(self.length,))
        return (Filling(chain=repeated.then(Chain(readings=(stroke,)))), *tails)

    def describe(self, completion: Filling) -> str:
        """Describe what completes the span: "a rest", "one stroke by the right hand", "flam tap in eighths"."""
        if completion.tail:
            return f"a {completion.tail.kind.value}"
        more = completion.chain.readings[self.statements :]
        if more[0].figure == STROKE:
            return f"one stroke by the {'right' if more[0].lead is Limb.RIGHT else 'left'} hand"
        return ", then ".join(f"{reading.figure.name} in {reading.rhythm_name}" for reading in more)


def find_remainder(figure: Figure, rhythm: Rhythm, span: Span, meter: Meter) -> Remainder:
    """Find the rest of a span after a figure repeated as often as it fits and can be written.

    Args:
        figure: the figure to repeat.
        rhythm: one of its rhythms.
        span: the span to fill.
        meter: of the phrase.

    Raises:
        FitError: for a rhythm or a span without length.
    """
    repetition = rhythm.length
    if repetition <= 0 or span.length <= 0:
        raise FitError(f"{figure.name} can't be repeated in a span of no length; give it a rhythm and a span.")
    statements = 0
    while (statements + 1) * repetition <= span.length:
        if not fits_span(rhythm, Span(start=span.start + statements * repetition, length=repetition), meter):
            break
        statements += 1
    left = span.length - statements * repetition
    return Remainder(figure=figure, rhythm=rhythm, span=span, meter=meter, statements=statements, length=left)


def _format_notes(length: Fraction, unit: Fraction) -> str:
    """Write a length as a number of the rhythm's shortest notes, or else as one note value or in whole notes.

    >>> _format_notes(Fraction(3, 16), Fraction(1, 16)), _format_notes(Fraction(1, 8), Fraction(1, 12))
    ('three sixteenths', 'one eighth')
    """
    if length % unit == 0 and format_value(unit) in _NAMES:
        number = int(length / unit)
        count = _NUMBERS[number] if number < len(_NUMBERS) else str(number)
        return f"{count} {_NAMES[format_value(unit)]}{'s' if number > 1 else ''}"
    name = _NAMES.get(format_value(length))
    return f"one {name}" if name else f"{length} of a whole note"


def _format_repetitions(number: int) -> str:
    return f"{number} {'repetition' if number == 1 else 'repetitions'}"
