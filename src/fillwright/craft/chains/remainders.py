"""Remainders: what a figure leaves of a span, repeated as often as it fits, and what completes it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from fillwright.craft.chains.chain import Chain, fits, fitting_beats, repeat, turn_length
from fillwright.craft.chains.readings import Reading, readings
from fillwright.craft.chains.rules import Filling, Rules, Tail, TailKind
from fillwright.craft.chains.space import ChainSpace
from fillwright.errors import FitError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.meter import Meter
from fillwright.music.notevalue import format_value, in_words
from fillwright.music.phrase import Span
from fillwright.music.stroke import Limb, Stroke

STROKE = Figure(name="single stroke", group="own", strokes=(Stroke(hand=Limb.RIGHT),), rhythms=())
"""One stroke, for where nothing longer fits."""

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
    """What a figure leaves of a span.

    Attributes:
        figure: what is repeated.
        rhythm: how it is played.
        span: what it is to fill.
        meter: of the phrase.
        turns: how many whole turns fit.
        length: what is left behind them, in whole notes; 0 where the figure comes out even.
    """

    figure: Figure
    rhythm: Rhythm
    span: Span
    meter: Meter
    turns: int
    length: Fraction

    @property
    def place(self) -> Span:
        """Where it lies in the phrase."""
        return Span(start=self.span.end - self.length, length=self.length)

    @property
    def sentence(self) -> str:
        """The remainder in one sentence.

        >>> from fillwright.music.meter import meter
        >>> from fillwright.music.rudiments import find_figure
        >>> accents = find_figure("flam accent")
        >>> bar = Span(start=Fraction(3), length=Fraction(1))
        >>> print(remainder(accents, accents.rhythms[1], bar, meter("4/4")).sentence)
        Flam accent in sixteenths leaves one sixteenth of 4 beats after 5 turns; over 1½ or 3 beats it is even.
        """
        name = f"{self.figure.name[:1].upper()}{self.figure.name[1:]} in {self.rhythm.name}"
        asked = _beats(self.span.length, self.meter)
        if not self.length:
            return f"{name} fills {asked} evenly in {_turns(self.turns)}."
        even = self._even()
        if not self.turns:
            too_long = self._turn > self.span.length
            why = (
                f"one turn takes {_beats(self._turn, self.meter)}"
                if too_long
                else "it can't be written from there"
            )
            return f"{name} does not fit into {asked}: {why}{even}."
        left = _notes(self.length, min(self.rhythm.lengths))
        return f"{name} leaves {left} of {asked} after {_turns(self.turns)}{even}."

    @property
    def _turn(self) -> Fraction:
        return turn_length(self.rhythm)

    def _even(self) -> str:
        for bars in (1, 2, 4):
            spans = fitting_beats(self.rhythm, self.meter, bars=bars)
            if spans:
                return f"; over {_listed(spans)} it is even"
        return "; over no span up to four bars is it even"

    def completions(
        self, figures: tuple[Figure, ...], *, lead: Limb = Limb.RIGHT, number: int = 3
    ) -> tuple[Filling, ...]:
        """What fills the span exactly: the turns, and one stroke, a rest, a kick or readings behind them.

        Args:
            figures: what the remainder may be filled with.
            lead: the hand of the first stroke.
            number: at most so many that fill the remainder with readings, the best first.

        Returns:
            One stroke, rest and kick first, where there is a turn before them and the remainder is one note.
        """
        if not self.length:
            return ()
        made = repeat(self.figure, self.rhythm, self.turns, lead)
        hand = made.last_hand.other if self.turns else lead
        plain = self._plain(made, hand) if self.turns else ()
        rules = Rules(lead=hand)
        space = ChainSpace(self.place, self.meter, readings(figures, self.meter), rules)
        return plain + tuple(Filling(chain=made.then(more.chain)) for more in space.best(number))

    def _plain(self, made: Chain, hand: Limb) -> tuple[Filling, ...]:
        tails = tuple(
            Filling(chain=made, tail=Tail(kind=kind, length=self.length))
            for kind in (TailKind.REST, TailKind.KICK)
        )
        if format_value(self.length).rstrip(".") not in _NAMES:
            return tails
        stroke = Reading(figure=STROKE, lead=hand, lengths=(self.length,))
        return (Filling(chain=made.then(Chain(readings=(stroke,)))), *tails)

    def words(self, completion: Filling) -> str:
        """What completes the span: "a rest", "one stroke by the right hand", "flam tap in eighths"."""
        if completion.tail:
            return f"a {completion.tail.kind.value}"
        more = completion.chain.readings[self.turns :]
        if more[0].figure == STROKE:
            return f"one stroke by the {'right' if more[0].lead is Limb.RIGHT else 'left'} hand"
        return ", then ".join(f"{reading.figure.name} in {reading.rhythm_name}" for reading in more)


def remainder(figure: Figure, rhythm: Rhythm, span: Span, meter: Meter) -> Remainder:
    """What a figure leaves of a span, repeated as often as it fits and can be written.

    Args:
        figure: what is repeated.
        rhythm: one of its rhythms.
        span: where it lies, whole notes from the start of the phrase.
        meter: of the phrase.

    Raises:
        FitError: for a rhythm without length, or a span of none.
    """
    turn = turn_length(rhythm)
    if turn <= 0 or span.length <= 0:
        raise FitError(f"{figure.name} can't be repeated in no time; give it a rhythm and a span.")
    turns = 0
    while (turns + 1) * turn <= span.length:
        if not fits(rhythm, Span(start=span.start + turns * turn, length=turn), meter):
            break
        turns += 1
    left = span.length - turns * turn
    return Remainder(figure=figure, rhythm=rhythm, span=span, meter=meter, turns=turns, length=left)


def _notes(length: Fraction, unit: Fraction) -> str:
    """A length as so many notes of the rhythm's shortest value, else as one note value or in whole notes.

    >>> _notes(Fraction(3, 16), Fraction(1, 16)), _notes(Fraction(1, 8), Fraction(1, 12))
    ('three sixteenths', 'one eighth')
    """
    if length % unit == 0 and format_value(unit) in _NAMES:
        number = int(length / unit)
        count = _NUMBERS[number] if number < len(_NUMBERS) else str(number)
        return f"{count} {_NAMES[format_value(unit)]}{'s' if number > 1 else ''}"
    name = _NAMES.get(format_value(length))
    return f"one {name}" if name else f"{length} of a whole note"


def _turns(number: int) -> str:
    return f"{number} {'turn' if number == 1 else 'turns'}"


def _beats(length: Fraction, meter: Meter) -> str:
    """A length in beats, or in eighths where beats differ."""
    if len(set(meter.beats)) == 1:
        return in_words(length / meter.tempo_unit)
    return in_words(length * 8).replace("beat", "eighth")


def _listed(spans: tuple[Fraction, ...]) -> str:
    """Numbers of beats as a choice: "1½ or 3 beats"."""
    *others, last = spans
    numbers = [in_words(beats).rsplit(" ", 1)[0] for beats in others]
    return f"{', '.join(numbers)} or {in_words(last)}" if others else in_words(last)
