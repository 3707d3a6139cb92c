"""The fills of a lesson: each step in its phrase, with the words and names around it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import count

from fillwright.craft.brief import StepKind
from fillwright.craft.steps import Plan, Step, plan
from fillwright.craft.written_fills import own_step
from fillwright.lesson.file import Lesson, LessonFigure
from fillwright.music.phrase import Phrase, landing, phrase
from fillwright.music.stroke import Limb
from fillwright.music.timing import FASTEST, Feel
from fillwright.score.sheet import Sheet

LONGEST_NAME = 40
"""Letters of a figure's name in file names: paths must stay short enough for every system."""


_FAR = 1.5  # a ceiling so many times the top of the ladder says nothing to a student


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonFill:
    """One fill of a lesson.

    Attributes:
        number: its place in the lesson, from 1.
        part: which figure of the lesson it belongs to, from 0.
        step: what the craft made.
        groove: name of the groove before it.
        phrase: the whole phrase, for the player's hand.
        sheet: the same on paper.
        ladder: the rungs of the lesson's tempo ladder that its player can reach.
        mirrored: whether hands are exchanged for a left-handed player.
        own: which of the teacher's own fills it is, in the order of the file from 0; None for one worked out.
        slug: its name in file names, "03-single-stroke-four-whole-bar"; in their order the files of a lesson
            stand as its fills do.
    """

    number: int
    part: int
    step: Step
    groove: str
    phrase: Phrase
    sheet: Sheet
    ladder: tuple[int, ...]
    mirrored: bool
    own: int | None
    slug: str

    @property
    def name(self) -> str:
        """Its short name, which stays when fills before it come and go: the slug without the number."""
        return self.slug.partition("-")[2]

    @property
    def title(self) -> str:
        """Figure and caption, for tags and the run sheet."""
        return f"{capitalised(self.step.figure.name)}: {self.caption}"

    @property
    def chapter(self) -> str:
        """The title without the drums one by one, short enough for a list of chapters."""
        return f"{capitalised(self.step.figure.name)}: {self.caption.partition(':')[0]}"

    @property
    def caption(self) -> str:
        """What is played, in words."""
        return self._sided(self.step.caption)

    @property
    def rhythm(self) -> str:
        """The reading, or the two that answer each other, in words."""
        return " and ".join(f"in {rhythm.name}" for rhythm in dict.fromkeys(self.step.rhythms))

    @property
    def difficulty(self) -> str:
        """Grade and ceiling with their reason, in words."""
        near = self.ceiling is not None and self.ceiling <= _FAR * self.ladder[-1]
        ceiling = f", up to {self.ceiling}" if near else ""
        return f"Grade {self.step.route.grade}{ceiling}: {self.reason}"

    @property
    def ceiling(self) -> int | None:
        """The fastest tempo its player can take, in whole beats a minute; None beyond what can be played."""
        bpm = self.step.route.ceiling_bpm
        return None if bpm > FASTEST else int(bpm)

    @property
    def reason(self) -> str:
        """What makes it as hard as it is, in words."""
        return self._sided(self.step.route.reason)

    def _sided(self, words: str) -> str:
        """Words about hands, for the player's own."""
        return _exchanged(words) if self.mirrored else words


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a lesson holds: its fills, and a sentence for each step that can't be made."""

    fills: tuple[LessonFill, ...]
    left_out: tuple[str, ...]


def contents(lesson: Lesson) -> Contents:
    """Every fill that a lesson implies, figure by figure, from easy to hard."""
    plans = [plan(brief) for brief in lesson.briefs()]
    planned = _named(lesson, plans)
    known = {one.name for one in planned}
    chosen = [one for one in planned if one.name not in lesson.leave_out]
    places = {name: place for place, name in enumerate(lesson.order)}
    chosen.sort(key=lambda one: (one.part, places.get(one.name, len(places))))
    digits = max(2, len(str(len(chosen))))
    fills = [_fill(lesson, one, f"{number:0{digits}d}") for number, one in enumerate(chosen, start=1)]
    unknown = [name for name in (*lesson.leave_out, *lesson.order) if name not in known]
    return Contents(
        fills=tuple(fills),
        left_out=(
            *(sentence for made in plans for sentence in made.left_out),
            *(f"{name}: this lesson makes no such fill to leave out or put in order." for name in unknown),
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Planned:
    """A step with its figure's place in the lesson and its short name, which no other has."""

    part: int
    step: Step
    own: int | None
    name: str


def _named(lesson: Lesson, plans: Sequence[Plan]) -> list[_Planned]:
    """Every step of a lesson, then the teacher's own: they leave the names of the others as they are."""
    briefs = lesson.briefs()
    found: list[tuple[int, Step, int | None, str]] = []
    for part, made in enumerate(plans):
        found += [(part, s, None, f"{_cut(slug(s.figure.name))}-{_short(s)}") for s in made.steps]
    for own, one in enumerate(lesson.own_fills):
        step = own_step(one.fill, briefs[one.part])
        found.append((one.part, step, own, _cut(slug(one.fill.name))))
    taken: set[str] = set()
    planned = []
    for part, step, own_place, name in found:
        free = _free(name, taken)
        taken.add(free)
        planned.append(_Planned(part=part, step=step, own=own_place, name=free))
    return planned


def _free(name: str, taken: Collection[str]) -> str:
    """The name, or the first with a number behind it that nothing has."""
    return next(free for n in count(1) if (free := name if n == 1 else f"{name}-{n}") not in taken)


def _fill(lesson: Lesson, planned: _Planned, number: str) -> LessonFill:
    part, step = planned.part, planned.step
    asked = lesson.figures[part]
    played = step_phrase(step, asked, bars=lesson.bars, land=lesson.landing, hand=lesson.hand)
    ladder = tuple(rung for rung in lesson.tempo if rung <= step.route.ceiling_bpm) or lesson.tempo[:1]
    return LessonFill(
        number=int(number),
        part=part,
        step=step,
        groove=asked.groove.name,
        phrase=played,
        sheet=Sheet(
            phrase=played,
            tempo=tempo_words(ladder) + swing_words(lesson.feel),
            label="Fill",
            counting=lesson.counting,
            cue=_cue(step),
            short_rolls=lesson.rolls == "short",
        ),
        ladder=ladder,
        mirrored=lesson.hand is Limb.LEFT,
        own=planned.own,
        slug=f"{number}-{planned.name}",
    )


def step_phrase(step: Step, asked: LessonFigure, *, bars: int, land: tuple[str, ...], hand: Limb) -> Phrase:
    """A step in its phrase, groove before and landing after, hands exchanged for a left-handed player."""
    meter = asked.groove.meter
    ends = landing(meter, step.lands, land) if land else ()
    whole = phrase(asked.groove, step.fill, bars=bars, land=ends)
    return whole.mirror() if hand is Limb.LEFT else whole


def _exchanged(words: str) -> str:
    """Words with right and left exchanged.

    >>> _exchanged("right on the floor tom, left on the snare")
    'left on the floor tom, right on the snare'
    """
    other = {"right": "left", "left": "right", "Right": "Left", "Left": "Right"}
    return re.sub("|".join(rf"\b{side}\b" for side in other), lambda match: other[match[0]], words)


def _cue(step: Step) -> tuple[str, ...]:
    """The figure's spoken words, one for each stroke; none where two figures are joined."""
    if step.mixed_with:
        return ()
    words = zip(step.figure.cue, step.figure.strokes, strict=False)
    return tuple("" if word == "-" else word for word, slot in words if slot)


def _short(step: Step) -> str:
    """Span and step as part of a file name: "whole-bar", "whole-bar-round-the-kit"."""
    span, _, _ = step.caption.partition(",")
    on_the_snare = step.kind in (StepKind.LAST_BEAT, StepKind.TWO_BEATS, StepKind.WHOLE_BAR, StepKind.OWN_SPAN)
    return slug(span) if on_the_snare else slug(f"{span} {step.kind.value}")


def tempo_words(ladder: tuple[int, ...]) -> str:
    """A tempo ladder beside the beat note.

    >>> tempo_words((60, 70, 80)), tempo_words((90,))
    ('60–80', '90')
    """
    return f"{ladder[0]}–{ladder[-1]}" if len(ladder) > 1 else str(ladder[0])


def swing_words(feel: Feel) -> str:
    """What stands beside the tempo where eighths swing.

    >>> swing_words(Feel())
    ''
    """
    return "" if feel == replace(Feel(), flam_ms=feel.flam_ms) else ", eighths swing"


def slug(text: str) -> str:
    """Text as part of a file name: small letters without accents, digits and hyphens.

    >>> slug("Drag paradiddle #2, last 2½ beats")
    'drag-paradiddle-2-last-2-5-beats'
    >>> slug("Étude"), slug("?!")
    ('etude', 'fill')
    """
    plain = text.casefold().replace("½", ".5").replace("¼", ".25").replace("¾", ".75")
    letters = "".join(c for c in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(c))
    return re.sub(r"[^a-z0-9]+", "-", letters.casefold()).strip("-") or "fill"


def _cut(name: str) -> str:
    """A long name, cut at a hyphen where it has one."""
    if len(name) <= LONGEST_NAME:
        return name
    words, _, _ = name[: LONGEST_NAME + 1].rpartition("-")
    return words or name[:LONGEST_NAME]


def capitalised(text: str) -> str:
    """Text with its first letter large."""
    return text[:1].upper() + text[1:]
