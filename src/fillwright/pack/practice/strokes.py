"""A fill's phrase as the page plays it: every stroke at its place as played, with the sounds it is made of.

Places are whole notes from the start of the phrase, swing already in them, so that the page only multiplies
by the length of a whole note at its tempo. What depends on seconds, grace notes and the bounces of a buzz, the
page works out as `music.timing` and `sound.strikes` do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from fillwright.music.phrase import Part, Phrase
from fillwright.music.stroke import Kind, Limb
from fillwright.music.timing import Feel, TimedHit, make_clock, time_phrase, whole_note_seconds
from fillwright.sound.playalong.strikes import Strike, list_strikes

_LIMBS = tuple(Limb)
_ANY_TEMPO = 60.0  # bpm; places in whole notes are the same at any tempo
_DIGITS = 10  # of a place in whole notes: far below a sample


@dataclass(frozen=True, slots=True, kw_only=True)
class PageStroke:
    """One stroke.

    Attributes:
        at: in whole notes as played.
        length: up to the next stroke of its line, as played.
        limb: index in `Limb`.
        sound: name of its main sound.
        velocity: of it.
        graces: number of grace notes before it.
        grace: their sound and velocity; None for none.
        bounce: the sound of a buzz's bounces; None where it does not buzz.
        in_fill: True if it belongs to the fill.
    """

    at: float
    length: float
    limb: int
    sound: str
    velocity: int
    graces: int = 0
    grace: tuple[str, int] | None = None
    bounce: str | None = None
    in_fill: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PageScore:
    """A phrase as the page plays it.

    Attributes:
        strokes: every one in time order, the landing's last.
        body: length of the phrase without its landing, in whole notes; a loop repeats exactly there.
        landing: strokes from this index on belong to the landing.
    """

    strokes: tuple[PageStroke, ...]
    body: Fraction
    landing: int

    def list_repeat(self) -> tuple[PageStroke, ...]:
        """List the strokes of every repetition after the first: the landing falls on its beat 1.

        A limb that lands leaves out what it would have played there. Where the fill itself starts on beat 1
        there is no groove to land in, and the landing waits for the end.
        """
        body, ends = self.strokes[: self.landing], self.strokes[self.landing :]
        first = [stroke for stroke in body if stroke.at == 0]
        if any(stroke.in_fill for stroke in first):
            return body
        landed = [_move(stroke, -float(self.body)) for stroke in ends]
        now = [stroke for stroke in landed if stroke.at == 0]
        kept = [stroke for stroke in body if stroke.at or not _is_replaced(stroke, now)]
        return tuple(sorted([*landed, *kept], key=lambda stroke: stroke.at))


def build_page_score(phrase: Phrase, feel: Feel) -> PageScore:
    """Return a phrase as the page plays it."""
    timed = time_phrase(phrase, _ANY_TEMPO, feel)
    whole_seconds = whole_note_seconds(phrase.meter, _ANY_TEMPO)
    ending = bool(phrase.bars) and phrase.bars[-1].part is Part.LANDING
    body = phrase.length - ending * phrase.meter.bar
    return PageScore(
        strokes=tuple(_make_stroke(hit, whole_seconds, in_fill=phrase.is_in_fill(hit.hit.at)) for hit in timed),
        body=body,
        landing=sum(hit.hit.at < body for hit in timed),
    )


def map_places(phrase: Phrase, feel: Feel) -> Callable[[Fraction], float]:
    """Return a function from a written place to the place where it sounds, both in whole notes."""
    seconds = make_clock(phrase, _ANY_TEMPO, feel)
    whole_seconds = whole_note_seconds(phrase.meter, _ANY_TEMPO)
    return lambda at: round_place(seconds(at) / whole_seconds)


def round_place(whole_notes: float) -> float:
    """Round a place to the digits that matter."""
    return round(whole_notes, _DIGITS)


def _make_stroke(timed: TimedHit, whole_seconds: float, *, in_fill: bool) -> PageStroke:
    """Return a stroke with its sounds, taken from the strikes that the mix is made of."""
    sounding = list_strikes((timed,))
    before, main, after = _split_strikes(timed, sounding)
    stroke = timed.hit.stroke
    return PageStroke(
        at=round_place(timed.onset_seconds / whole_seconds),
        length=round_place(timed.length_seconds / whole_seconds),
        limb=_LIMBS.index(stroke.hand),
        sound=main.name,
        velocity=main.velocity,
        graces=stroke.kind.graces,
        grace=(before[0].name, before[0].velocity) if before else None,
        bounce=(after[0].name if after else main.name) if stroke.kind is Kind.BUZZ else None,
        in_fill=in_fill,
    )


def _split_strikes(
    timed: TimedHit, sounding: tuple[Strike, ...]
) -> tuple[tuple[Strike, ...], Strike, tuple[Strike, ...]]:
    count = len(timed.grace_seconds)
    return sounding[:count], sounding[count], sounding[count + 1 :]


def _move(stroke: PageStroke, by: float) -> PageStroke:
    return replace(stroke, at=round_place(stroke.at + by))


def _is_replaced(stroke: PageStroke, landed: list[PageStroke]) -> bool:
    return any(stroke.limb == other.limb or stroke.sound == other.sound for other in landed)
