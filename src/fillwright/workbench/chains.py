"""Chains from options, and the first of them in its phrase, without a lesson file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from typing import Any

from fillwright.craft.chains.readings import readings, rhythms_in
from fillwright.craft.chains.remainders import Remainder, remainder
from fillwright.craft.chains.rules import HAND_TO_HAND, Filling, Rules, Tail, TailKind, hand_to_hand
from fillwright.craft.chains.space import ChainSpace
from fillwright.errors import FitError, SpanError
from fillwright.music.counting import parse_places
from fillwright.music.figure import Figure
from fillwright.music.grooves import find_groove, grooves
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter, meter
from fillwright.music.notevalue import format_value, in_words, parse_values
from fillwright.music.phrase import Fill, Phrase, Span, landing, last_beats, phrase
from fillwright.music.rudiments import find_figure, rudiments
from fillwright.music.sticking import format_sticking
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import surface
from fillwright.score.engraving.engrave import engrave
from fillwright.score.engraving.paper import drawing_pdf
from fillwright.score.sheet import Sheet

MOST_CHAINS = 1000
"""The most chains that are written out at a time."""

_PHRASE_BARS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked for.

    Attributes:
        figures: names of figures; empty for the 40 rudiments.
        own: a teacher's own figures, which may be named too.
        beats: how many last beats the chains fill; None to take `bars`.
        bars: how many last bars they fill.
        meter: its name.
        rules: rules of hands and of how many figures; the fields below add to them.
        must: names of figures that must appear.
        accents: places of the bar, as players count them, that must be accented wherever the span holds them.
        rests: note values of rests that may fill a remainder.
        kicks: the same for a stroke of the kick.
    """

    figures: tuple[str, ...] = ()
    own: tuple[Figure, ...] = ()
    beats: Fraction | None = None
    bars: int = 1
    meter: str = "4/4"
    rules: Rules = HAND_TO_HAND
    must: tuple[str, ...] = ()
    accents: str = ""
    rests: str = ""
    kicks: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chained:
    """The chains that were asked for.

    Attributes:
        space: all of them.
        figures: what they are made of.
        span: what they fill, from the start of a phrase of `bars` bars.
        meter: of the phrase.
        bars: of the phrase.
        hands: whether leads count.
    """

    space: ChainSpace
    figures: tuple[Figure, ...]
    span: Span
    meter: Meter
    bars: int
    hands: bool

    def best(self, number: int) -> tuple[Filling, ...]:
        """The best, with hands to play them.

        Raises:
            FitError: for fewer than none or more than can be written out.
        """
        return self._led(self.space.best(_checked(number)))

    def draw(self, number: int, seed: int) -> tuple[Filling, ...]:
        """Random ones, with hands to play them.

        Raises:
            FitError: for fewer than none or more than can be written out.
        """
        return self._led(self.space.draw(_checked(number), seed=seed))

    def _led(self, found: tuple[Filling, ...]) -> tuple[Filling, ...]:
        return found if self.hands else tuple(hand_to_hand(filling) for filling in found)

    def remainders(self) -> tuple[Remainder, ...]:
        """What a figure that stands alone leaves of the span, in each of the rhythms it is known in."""
        if len(self.figures) != 1:
            return ()
        (figure,) = self.figures
        known = rhythms_in(figure, self.meter)
        left = (remainder(figure, rhythm, self.span, self.meter) for rhythm in known)
        return tuple(one for one in left if one.length and one.turns)

    def completed_by(self, left: Remainder) -> tuple[str, ...]:
        """What completes a remainder, in words, the rudiments to choose from."""
        return tuple(left.words(done) for done in left.completions(rudiments()))

    @property
    def words(self) -> str:
        """The span in words: "4 beats of 4/4"."""
        return f"{in_words(self.meter.beats_in(self.span.length))} of {self.meter.name}"


def chained(asked: Asked) -> Chained:
    """The chains that are asked for.

    Raises:
        UnknownNameError: for a figure or meter nobody knows.
        SpanError: for a span that can't be filled.
        FitError: for rules that can't be.
        CountError: for an accent that can't be read.
        StickingError: for a note value that can't be read.
    """
    where = meter(asked.meter)
    figures = tuple(dict.fromkeys(find_figure(name, asked.own) for name in asked.figures)) or rudiments()
    beats = asked.beats if asked.beats is not None else Fraction(asked.bars * len(where.beats))
    bars = max(_PHRASE_BARS, ceil(beats / len(where.beats)))
    if beats <= 0:
        raise SpanError(f"A span of {beats} beats can't be filled; give more than 0.")
    span = last_beats(where, bars, beats)
    rules = replace(
        asked.rules,
        must=tuple(find_figure(name, asked.own).name for name in asked.must),
        accents=_accents(asked.accents, where, span) if asked.accents else (),
        tails=(*_tails(asked.rests, TailKind.REST), *_tails(asked.kicks, TailKind.KICK)),
    )
    space = ChainSpace(span, where, readings(figures, where), rules)
    return Chained(space=space, figures=figures, span=span, meter=where, bars=bars, hands=rules.hands)


def _checked(number: int) -> int:
    if not 0 <= number <= MOST_CHAINS:
        raise FitError(f"{number} chains can't be written out at once; ask for 0 to {MOST_CHAINS}.")
    return number


def _accents(text: str, where: Meter, span: Span) -> tuple[Fraction, ...]:
    """Places of a bar as places of the span, in every bar that it reaches into."""
    found = []
    for place, _ in parse_places(text, where):
        bars = range(ceil(span.end / where.bar))
        inside = [bar * where.bar + place - span.start for bar in bars]
        inside = [at for at in inside if 0 <= at < span.length]
        if not inside:
            raise SpanError(
                f'An accent of "{text[:40]}" falls outside the last {in_words(where.beats_in(span.length))}; '
                "give places of the bar that the fill reaches."
            )
        found += inside
    return tuple(sorted(found))


def _tails(values: str, kind: TailKind) -> tuple[Tail, ...]:
    if not values:
        return ()
    lengths = dict.fromkeys(parse_values(values.replace(",", " ")))
    return tuple(Tail(kind=kind, length=length) for length in lengths)


def gap(text: str) -> Fraction:
    """A time as a note value, "8", or as a part of a whole note, "1/8".

    Raises:
        StickingError: for what is neither.

    >>> gap("8t"), gap("1/8")
    (Fraction(1, 12), Fraction(1, 8))
    """
    first, slash, second = text.strip().partition("/")
    if slash and first.isascii() and first.isdigit() and second.isascii() and second.isdigit() and int(second):
        return Fraction(int(first), int(second))
    return sum(parse_values(text), Fraction(0))


def chain_phrase(made: Chained, filling: Filling, groove: str = "") -> Phrase:
    """A chain on the snare in its phrase: groove, fill, landing.

    Args:
        made: the chains it is one of.
        filling: the chain with what fills its remainder.
        groove: name of the groove before it; "" for the first of the meter.

    Raises:
        UnknownNameError: for a groove nobody knows.
        FitError: for a groove in another meter.
    """
    before = find_groove(groove) if groove else next(one for one in grooves() if one.meter == made.meter)
    if before.meter != made.meter:
        raise FitError(f"{before.name} is in {before.meter.name} and the chains are in {made.meter.name}.")
    fill = Fill(span=made.span, hits=filling.chain.hits())
    if filling.tail and filling.tail.kind is TailKind.KICK:
        length = filling.tail.length
        kick = Hit(
            at=made.span.length - length,
            length=length,
            stroke=Stroke(hand=Limb.RIGHT_FOOT),
            surface=surface("kick"),
        )
        fill = replace(fill, hits=(*fill.hits, kick))
    return phrase(before, fill, bars=made.bars, land=landing(made.meter, filling.lands))


def chain_picture(played: Phrase, suffix: str, *, tempo: int) -> bytes:
    """A phrase engraved, as the content of an .svg or .pdf file."""
    music = engrave(Sheet(phrase=played, tempo=str(tempo), label="Fill"))
    if suffix == ".svg":
        return music.svg.encode("utf-8")
    return drawing_pdf(music.svg, width_mm=music.width_mm, height_mm=music.height_mm)


def sticking(filling: Filling) -> str:
    """The strokes of a chain as text, turns parted by lines; a remainder is a rest for the hands."""
    turns = [format_sticking(reading.slots) for reading in filling.chain.readings]
    return " | ".join([*turns, "-"] if filling.tail else turns)


def as_json(filling: Filling) -> dict[str, Any]:
    """One chain as `--json` gives it."""
    turns = filling.chain.readings
    row: dict[str, Any] = {
        "figures": [reading.figure.name for reading in turns],
        "rhythms": [reading.rhythm_name for reading in turns],
        "rebarred": [reading.rebarred for reading in turns],
        "leads": [reading.lead.value for reading in turns],
        "sticking": sticking(filling),
        "starts": filling.starts.value,
        "lands": filling.lands.value,
        "cost": filling.cost,
    }
    if filling.tail:
        row["tail"] = {"kind": filling.tail.kind.value, "value": format_value(filling.tail.length)}
    return row
