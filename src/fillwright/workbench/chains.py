"""Chains from options, and a chain in its phrase, without a lesson file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil
from typing import Any

from fillwright.craft.chains.readings import fit_rhythms, list_readings
from fillwright.craft.chains.remainders import Remainder, find_remainder
from fillwright.craft.chains.rules import HAND_TO_HAND, Filling, Rules, Tail, TailKind, alternate_hands
from fillwright.craft.chains.space import ChainSpace
from fillwright.errors import FitError, SpanError
from fillwright.music.counting import parse_places
from fillwright.music.figure import Figure
from fillwright.music.grooves import find_groove, load_grooves
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter, find_meter
from fillwright.music.notevalue import format_beats, format_value, parse_values
from fillwright.music.phrase import Fill, Phrase, Span, build_landing, build_phrase, locate_last_beats
from fillwright.music.rudiments import find_figure, load_rudiments
from fillwright.music.sticking import format_sticking
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.score.engraving.engrave import engrave
from fillwright.score.engraving.paper import make_pdf
from fillwright.score.sheet import Sheet

MOST_CHAINS = 1000  # written out at a time; ours

_PHRASE_BARS = 4  # of the phrase around a chain; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainRequest:
    """A choice of figures, span and rules for chains.

    Attributes:
        figures: names of figures; empty for the 40 rudiments.
        own: a teacher's own figures, which may be named too.
        beats: number of last beats that the chains fill; None to take `bars`.
        bars: number of last bars that they fill.
        meter: its name.
        rules: rules of hands and of how many figures; the fields below add to them.
        must: names of figures that must appear.
        accents: places of the bar, as players count them, that must be accented where the span holds them.
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
class ChainSet:
    """All chains of a request.

    Attributes:
        space: the chains.
        figures: used in them.
        span: filled by them, from the start of a phrase of `bars` bars.
        meter: of the phrase.
        bars: of the phrase.
        hands: True if leads count.
    """

    space: ChainSpace
    figures: tuple[Figure, ...]
    span: Span
    meter: Meter
    bars: int
    hands: bool

    def list_best(self, number: int) -> tuple[Filling, ...]:
        """Return the best chains, with hands to play them.

        Raises:
            FitError: for a number that can't be written out.
        """
        return self._assign_hands(self.space.best(_check_number(number)))

    def draw(self, number: int, seed: int) -> tuple[Filling, ...]:
        """Draw random chains, with hands to play them.

        Raises:
            FitError: for a number that can't be written out.
        """
        return self._assign_hands(self.space.draw(_check_number(number), seed=seed))

    def _assign_hands(self, fillings: tuple[Filling, ...]) -> tuple[Filling, ...]:
        return fillings if self.hands else tuple(alternate_hands(filling) for filling in fillings)

    def find_remainders(self) -> tuple[Remainder, ...]:
        """Find the parts of the span that a single figure leaves over, one for each of its rhythms."""
        if len(self.figures) != 1:
            return ()
        (figure,) = self.figures
        known = fit_rhythms(figure, self.meter)
        left = (find_remainder(figure, rhythm, self.span, self.meter) for rhythm in known)
        return tuple(remainder for remainder in left if remainder.length and remainder.statements)

    def list_completions(self, remainder: Remainder) -> tuple[str, ...]:
        """Return everything that completes a remainder, in words, rudiments among it."""
        completions = remainder.complete(load_rudiments())
        return tuple(remainder.describe(completion) for completion in completions)

    @property
    def words(self) -> str:
        """Span in words: "4 beats of 4/4"."""
        return f"{format_beats(self.meter.count_beats(self.span.length))} of {self.meter.name}"


def find_chains(request: ChainRequest) -> ChainSet:
    """Find the chains of a request.

    Raises:
        UnknownNameError: for an unknown figure or meter.
        SpanError: for a span that can't be filled.
        FitError: for rules that contradict each other.
        CountError: for an accent that can't be read.
        StickingError: for a note value that can't be read.
    """
    where = find_meter(request.meter)
    figures = (
        tuple(dict.fromkeys(find_figure(name, request.own) for name in request.figures)) or load_rudiments()
    )
    beats = request.beats if request.beats is not None else Fraction(request.bars * len(where.beats))
    bars = max(_PHRASE_BARS, ceil(beats / len(where.beats)))
    if beats <= 0:
        raise SpanError(f"A span of {beats} beats can't be filled; give more than 0.")
    span = locate_last_beats(where, bars, beats)
    rules = replace(
        request.rules,
        must=tuple(find_figure(name, request.own).name for name in request.must),
        accents=_accents(request.accents, where, span) if request.accents else (),
        tails=(*_tails(request.rests, TailKind.REST), *_tails(request.kicks, TailKind.KICK)),
    )
    space = ChainSpace(span, where, list_readings(figures, where), rules)
    return ChainSet(space=space, figures=figures, span=span, meter=where, bars=bars, hands=rules.hands)


def _check_number(number: int) -> int:
    if not 0 <= number <= MOST_CHAINS:
        raise FitError(f"{number} chains can't be written out at once; ask for 0 to {MOST_CHAINS}.")
    return number


def _accents(text: str, where: Meter, span: Span) -> tuple[Fraction, ...]:
    """Return places of a bar as places of the span, in every bar that it reaches into."""
    accents = []
    for at_bar, _ in parse_places(text, where):
        bars = range(ceil(span.end / where.bar))
        inside = [bar * where.bar + at_bar - span.start for bar in bars]
        inside = [at for at in inside if 0 <= at < span.length]
        if not inside:
            beats = format_beats(where.count_beats(span.length))
            raise SpanError(
                f'An accent of "{text[:40]}" is outside the last {beats}; '
                "give places of the bar that the fill reaches."
            )
        accents += inside
    return tuple(sorted(accents))


def _tails(values: str, kind: TailKind) -> tuple[Tail, ...]:
    if not values:
        return ()
    lengths = dict.fromkeys(parse_values(values.replace(",", " ")))
    return tuple(Tail(kind=kind, length=length) for length in lengths)


def parse_gap(text: str) -> Fraction:
    """Read a time, written as a note value, "8", or as a part of a whole note, "1/8".

    Raises:
        StickingError: for a text that is neither.

    >>> parse_gap("8t"), parse_gap("1/8")
    (Fraction(1, 12), Fraction(1, 8))
    """
    first, slash, second = text.strip().partition("/")
    if slash and first.isascii() and first.isdigit() and second.isascii() and second.isdigit() and int(second):
        return Fraction(int(first), int(second))
    return sum(parse_values(text), Fraction(0))


def build_chain_phrase(chains: ChainSet, filling: Filling, groove: str = "") -> Phrase:
    """Build the phrase of a chain on the snare: groove, fill, landing.

    Args:
        chains: the set that it belongs to.
        filling: the chain, with a tail in its remainder.
        groove: name of the groove before it; "" for the first of the meter.

    Raises:
        UnknownNameError: for an unknown groove.
        FitError: for a groove in another meter.
    """
    before = (
        find_groove(groove)
        if groove
        else next(known for known in load_grooves() if known.meter == chains.meter)
    )
    if before.meter != chains.meter:
        raise FitError(f"{before.name} is in {before.meter.name} and the chains are in {chains.meter.name}.")
    fill = Fill(span=chains.span, hits=filling.chain.hits())
    if filling.tail and filling.tail.kind is TailKind.KICK:
        length = filling.tail.length
        kick = Hit(
            at=chains.span.length - length,
            length=length,
            stroke=Stroke(hand=Limb.RIGHT_FOOT),
            surface=find_surface("kick"),
        )
        fill = replace(fill, hits=(*fill.hits, kick))
    return build_phrase(before, fill, bars=chains.bars, land=build_landing(chains.meter, filling.lands))


def draw_chain(phrase: Phrase, suffix: str, *, tempo: int) -> bytes:
    """Engrave a phrase as the content of an .svg or .pdf file."""
    music = engrave(Sheet(phrase=phrase, tempo=str(tempo), label="Fill"))
    if suffix == ".svg":
        return music.svg.encode("utf-8")
    return make_pdf(music.svg, width_mm=music.width_mm, height_mm=music.height_mm)


def format_chain_sticking(filling: Filling) -> str:
    """Write the strokes of a chain, its figures separated by bars; a remainder is a rest for the hands."""
    parts = [format_sticking(reading.slots) for reading in filling.chain.readings]
    return " | ".join([*parts, "-"] if filling.tail else parts)


def describe_chain(filling: Filling) -> dict[str, Any]:
    """Return a chain as `--json` prints it."""
    readings = filling.chain.readings
    row: dict[str, Any] = {
        "figures": [reading.figure.name for reading in readings],
        "rhythms": [reading.rhythm_name for reading in readings],
        "rebarred": [reading.rebarred for reading in readings],
        "leads": [reading.lead.value for reading in readings],
        "sticking": format_chain_sticking(filling),
        "starts": filling.starts.value,
        "lands": filling.lands.value,
        "cost": filling.cost,
    }
    if filling.tail:
        row["tail"] = {"kind": filling.tail.kind.value, "value": format_value(filling.tail.length)}
    return row
