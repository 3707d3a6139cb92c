"""Fills of a lesson: each step in its phrase, with its captions and names."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import count

from fillwright.craft.brief import Brief, StepKind
from fillwright.craft.steps import Step, StepPlan, plan_steps
from fillwright.craft.written_fills import make_step
from fillwright.lesson.file import Lesson, LessonFigure
from fillwright.music.figure import Rhythm
from fillwright.music.notevalue import NUMBERS
from fillwright.music.phrase import Phrase, build_landing, build_phrase
from fillwright.music.stroke import Limb
from fillwright.music.timing import FASTEST, Feel
from fillwright.score.sheet import Sheet

LONGEST_NAME = 40  # letters of a figure's name in file names; ours, so that paths stay short on every system

_FAR = 1.5  # times the top of the ladder: a top tempo above it is of no use to a student; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonFill:
    """One fill of a lesson.

    Attributes:
        number: its place in the lesson, from 1.
        part: number of its figure in the lesson, from 0.
        step: as it was planned.
        groove: name of the groove before it.
        phrase: for the player's leading hand.
        sheet: the same on paper.
        ladder: tempos of the lesson's ladder that its player can reach, in bpm.
        mirrored: True if hands are exchanged for a left-handed player.
        own: number among the teacher's own fills in the file, from 0; None for one that was worked out.
        slug: its name in file names, "03-single-stroke-four-whole-bar"; sorted, the files of a lesson are in
            the order of its fills.
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
        """Fill name, which stays when fills before it are added or removed: the slug without the number."""
        return self.slug.partition("-")[2]

    @property
    def title(self) -> str:
        """Figure and caption, for tags and the run sheet."""
        return f"{capitalise(self.step.figure.name)}: {self.caption}"

    @property
    def chapter(self) -> str:
        """The title without the drums one by one, short enough for a list of chapters."""
        return f"{capitalise(self.step.figure.name)}: {self.caption.partition(':')[0]}"

    @property
    def caption(self) -> str:
        """Description of the fill, in words."""
        return self._exchange_hands(self.step.caption)

    @property
    def rhythm(self) -> str:
        """Rhythm of the figure, or of the two that answer each other, in words."""
        return " and ".join(_describe_rhythm(rhythm) for rhythm in dict.fromkeys(self.step.rhythms))

    @property
    def difficulty(self) -> str:
        """Grade and top tempo with their reason, in words."""
        near = self.ceiling is not None and self.ceiling <= _FAR * self.ladder[-1]
        ceiling = f", up to {self.ceiling}" if near else ""
        return f"Grade {self.step.route.grade}{ceiling}: {self.reason}"

    @property
    def ceiling(self) -> int | None:
        """Fastest playable tempo, in whole bpm; None above the fastest tempo that the program plays."""
        bpm = self.step.route.ceiling_bpm
        return None if bpm > FASTEST else int(bpm)

    @property
    def reason(self) -> str:
        """Reason for the grade, in words."""
        return self._exchange_hands(self.step.route.reason)

    def _exchange_hands(self, words: str) -> str:
        """Return words about hands for the player's leading hand."""
        return _exchange_sides(words) if self.mirrored else words


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonFills:
    """Fills of a lesson, and a sentence for each skipped step."""

    fills: tuple[LessonFill, ...]
    left_out: tuple[str, ...]


def build_fills(lesson: Lesson) -> LessonFills:
    """Build every fill that a lesson implies, figure by figure, from easy to hard."""
    briefs = lesson.list_briefs()
    plans = [_plan_figure(lesson, brief) for brief in briefs]
    planned = _name_steps(lesson, briefs, plans)
    known = {fill.name for fill in planned}
    chosen = [fill for fill in planned if fill.name not in lesson.leave_out]
    ranks = {name: rank for rank, name in enumerate(lesson.order)}
    chosen.sort(key=lambda fill: (fill.part, ranks.get(fill.name, len(ranks))))
    digits = max(2, len(str(len(chosen))))
    fills = [_build_fill(lesson, fill, f"{number:0{digits}d}") for number, fill in enumerate(chosen, start=1)]
    unknown = [name for name in (*lesson.leave_out, *lesson.order) if name not in known]
    return LessonFills(
        fills=tuple(fills),
        left_out=(
            *(sentence for plan in plans for sentence in plan.left_out),
            *(
                f"{name}: this lesson has no fill of that name to remove or to put in order."
                for name in unknown
            ),
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _PlannedFill:
    """A step with the number of its figure in the lesson and its fill name, which no other has."""

    part: int
    step: Step
    own: int | None
    name: str


def _plan_figure(lesson: Lesson, brief: Brief) -> StepPlan:
    """Return the plan of a figure: the one that reading the lesson made, or a new one."""
    return next((plan for known, plan in lesson.plans if known == brief), None) or plan_steps(brief)


def _name_steps(lesson: Lesson, briefs: Sequence[Brief], plans: Sequence[StepPlan]) -> list[_PlannedFill]:
    """Name every step of a lesson, then the teacher's own: they leave the names of the others as they are."""
    steps: list[tuple[int, Step, int | None, str]] = []
    for part, plan in enumerate(plans):
        for step in plan.steps:
            steps.append((part, step, None, f"{_shorten_name(make_slug(step.figure.name))}-{_name_step(step)}"))
    for number, fill in enumerate(lesson.own_fills):
        step = make_step(fill.fill, briefs[fill.part])
        steps.append((fill.part, step, number, _shorten_name(make_slug(fill.fill.name))))
    taken: set[str] = set()
    planned = []
    for part, step, own, name in steps:
        free = _find_free_name(name, taken)
        taken.add(free)
        planned.append(_PlannedFill(part=part, step=step, own=own, name=free))
    return planned


def _find_free_name(name: str, taken: Collection[str]) -> str:
    """Return the name, or the first free one with a number after it."""
    return next(free for n in count(1) if (free := name if n == 1 else f"{name}-{n}") not in taken)


def _build_fill(lesson: Lesson, planned: _PlannedFill, number: str) -> LessonFill:
    part, step = planned.part, planned.step
    figure = lesson.figures[part]
    phrase = build_step_phrase(step, figure, bars=lesson.bars, land=lesson.landing, hand=lesson.hand)
    ladder = tuple(tempo for tempo in lesson.tempo if tempo <= step.route.ceiling_bpm) or lesson.tempo[:1]
    return LessonFill(
        number=int(number),
        part=part,
        step=step,
        groove=figure.groove.name,
        phrase=phrase,
        sheet=Sheet(
            phrase=phrase,
            tempo=format_tempo(ladder) + format_swing(lesson.feel),
            label="Fill",
            counting=lesson.counting,
            cue=_list_cue(step),
            short_rolls=lesson.rolls == "short",
        ),
        ladder=ladder,
        mirrored=lesson.hand is Limb.LEFT,
        own=planned.own,
        slug=f"{number}-{planned.name}",
    )


def build_step_phrase(
    step: Step, figure: LessonFigure, *, bars: int, land: tuple[str, ...], hand: Limb
) -> Phrase:
    """Build the phrase of a step: groove, fill and landing, hands exchanged for a left-handed player."""
    meter = figure.groove.meter
    ends = build_landing(meter, step.lands, land) if land else ()
    phrase = build_phrase(figure.groove, step.fill, bars=bars, land=ends)
    return phrase.mirror() if hand is Limb.LEFT else phrase


def _exchange_sides(words: str) -> str:
    """Return words with right and left exchanged.

    >>> _exchange_sides("right on the floor tom, left on the snare")
    'left on the floor tom, right on the snare'
    """
    other = {"right": "left", "left": "right", "Right": "Left", "Left": "Right"}
    return re.sub("|".join(rf"\b{side}\b" for side in other), lambda match: other[match[0]], words)


def _list_cue(step: Step) -> tuple[str, ...]:
    """Return the figure's spoken words, one for each stroke; none where two figures are joined."""
    if step.mixed_with:
        return ()
    words = zip(step.figure.cue, step.figure.strokes, strict=False)
    return tuple("" if word == "-" else word for word, slot in words if slot)


def _name_step(step: Step) -> str:
    """Return span and step for a file name: "last-2-beats", "whole-bar-round-the-kit"."""
    span, _, _ = step.caption.partition(",")
    span = " ".join(str(NUMBERS.index(word) + 2) if word in NUMBERS else word for word in span.split())
    on_the_snare = step.kind in (StepKind.LAST_BEAT, StepKind.TWO_BEATS, StepKind.WHOLE_BAR, StepKind.OWN_SPAN)
    return make_slug(span) if on_the_snare else make_slug(f"{span} {step.kind.value}")


def _describe_rhythm(rhythm: Rhythm) -> str:
    """Return a rhythm in words: "in sixteenths", "a sixteenth-note triplet and an eighth"."""
    return rhythm.name if " " in rhythm.name else f"in {rhythm.name}"


def format_tempo(ladder: tuple[int, ...]) -> str:
    """Write a tempo ladder as it is printed next to the beat note.

    >>> format_tempo((60, 70, 80)), format_tempo((90,))
    ('60–80', '90')
    """
    return f"{ladder[0]}–{ladder[-1]}" if len(ladder) > 1 else str(ladder[0])


def format_swing(feel: Feel) -> str:
    """Write the words next to the tempo where eighths swing.

    >>> format_swing(Feel())
    ''
    """
    return "" if feel == replace(Feel(), flam_ms=feel.flam_ms) else ", eighths swing"


def make_slug(text: str) -> str:
    """Write a text as part of a file name: small letters without accents, digits and hyphens.

    >>> make_slug("Drag paradiddle #2, last 2½ beats")
    'drag-paradiddle-2-last-2-5-beats'
    >>> make_slug("Étude"), make_slug("?!")
    ('etude', 'fill')
    """
    plain = text.casefold().replace("½", ".5").replace("¼", ".25").replace("¾", ".75")
    letters = "".join(c for c in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(c))
    return re.sub(r"[^a-z0-9]+", "-", letters.casefold()).strip("-") or "fill"


def _shorten_name(name: str) -> str:
    """Return a name, a long one cut at a hyphen where it has one."""
    if len(name) <= LONGEST_NAME:
        return name
    words, _, _ = name[: LONGEST_NAME + 1].rpartition("-")
    return words or name[:LONGEST_NAME]


def capitalise(text: str) -> str:
    """Return a text with its first letter as a capital."""
    return text[:1].upper() + text[1:]
