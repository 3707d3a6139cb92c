"""The fills of a lesson: each step in its phrase, with the words and names around it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from fillwright.craft.steps import Step, StepKind, plan
from fillwright.lesson.file import Lesson, LessonFigure
from fillwright.music.phrase import Phrase, landing, phrase
from fillwright.music.stroke import Limb
from fillwright.score.sheet import Sheet


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
        slug: its name in file names, "03-single-stroke-four-whole-bar".
    """

    number: int
    part: int
    step: Step
    groove: str
    phrase: Phrase
    sheet: Sheet
    slug: str

    @property
    def title(self) -> str:
        """Figure and caption, for tags and chapters."""
        return f"{capitalised(self.step.figure.name)}: {self.caption}"

    @property
    def caption(self) -> str:
        """What is played, in words."""
        return self.step.caption

    @property
    def rhythm(self) -> str:
        """The reading, in words."""
        return f"in {self.step.rhythm.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a lesson holds: its fills, and a sentence for each step that can't be made."""

    fills: tuple[LessonFill, ...]
    left_out: tuple[str, ...]


def contents(lesson: Lesson) -> Contents:
    """Every fill that a lesson implies, figure by figure, from easy to hard."""
    fills: list[LessonFill] = []
    left_out: list[str] = []
    for part, brief in enumerate(lesson.briefs()):
        made = plan(brief)
        left_out += made.left_out
        for step in made.steps:
            fills.append(_fill(lesson, part, step, len(fills) + 1))
    return Contents(fills=tuple(fills), left_out=tuple(left_out))


def _fill(lesson: Lesson, part: int, step: Step, number: int) -> LessonFill:
    asked = lesson.figures[part]
    played = step_phrase(step, asked, bars=lesson.bars, land=lesson.landing, hand=lesson.hand)
    return LessonFill(
        number=number,
        part=part,
        step=step,
        groove=asked.groove.name,
        phrase=played,
        sheet=Sheet(
            phrase=played,
            tempo=tempo_words(lesson.tempo),
            label="Fill",
            counting=lesson.counting,
            cue=_cue(step),
            short_rolls=lesson.rolls == "short",
        ),
        slug=f"{number:02d}-{slug(step.figure.name)}-{_short(step)}",
    )


def step_phrase(step: Step, asked: LessonFigure, *, bars: int, land: tuple[str, ...], hand: Limb) -> Phrase:
    """A step in its phrase, groove before and landing after, hands exchanged for a left-handed player."""
    meter = asked.groove.meter
    ends = landing(meter, step.lands, land) if land else ()
    whole = phrase(asked.groove, step.fill, bars=bars, land=ends)
    return whole.mirror() if hand is Limb.LEFT else whole


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


def slug(text: str) -> str:
    """Text as part of a file name: small letters, digits and hyphens.

    >>> slug("Drag paradiddle #2, last 2½ beats")
    'drag-paradiddle-2-last-2-5-beats'
    """
    plain = text.casefold().replace("½", ".5").replace("¼", ".25").replace("¾", ".75")
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "fill"


def capitalised(text: str) -> str:
    """Text with its first letter large."""
    return text[:1].upper() + text[1:]
