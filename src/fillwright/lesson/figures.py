"""Figures of a lesson file: from one [[figure]] table to a figure and the fills wanted of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from fillwright.craft.brief import (
    TEACHING_ORDER,
    Brief,
    StepKind,
)
from fillwright.craft.player.kits import Kit
from fillwright.craft.player.players import Player
from fillwright.errors import MistakeKind, StickingError, UnknownNameError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.grooves import Groove
from fillwright.music.rudiments import load_rudiments, normalize_name, parse_rhythm
from fillwright.music.stroke import Limb, Slot
from fillwright.tables.keys import read_keys
from fillwright.tables.lesson_values import find_named_figure
from fillwright.tables.mistakes import Mistakes
from fillwright.tables.outline import KeyPath
from fillwright.tables.values import Key

OWN_GROUP = "own"
"""Group of a teacher's own figures."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FillConditions:
    """Conditions that all fills of a lesson share.

    Attributes:
        bars: of a phrase.
        kit: for a right-handed player.
        player: limits of speed and reach.
        tempo: slowest of the ladder, in bpm.
        per_step: most fills of one step.
    """

    bars: int
    kit: Kit
    player: Player
    tempo: int
    per_step: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonFigure:
    """One figure of a lesson and the fills wanted of it.

    Attributes:
        figure: with its cue; where the teacher wrote a rhythm, with that one only.
        rhythm: as the teacher wrote it; None where the figure's own are used.
        groove: played before its fills; its meter is that of the phrase.
        lead: hand of the first stroke.
        kinds: steps wanted, in teaching order.
        beats: further spans, in last beats.
    """

    figure: Figure
    rhythm: Rhythm | None
    groove: Groove
    lead: Limb
    kinds: tuple[StepKind, ...]
    beats: tuple[Fraction, ...] = ()

    def make_brief(self, conditions: FillConditions, earlier: tuple[Figure, ...] = ()) -> Brief:
        """Make the brief of the figure for `craft.steps.plan_steps`.

        The brief leaves the rhythm to the figure, which has the teacher's only: so triplets become eighths
        where a meter counts in threes, as they do for a rudiment.
        """
        return Brief(
            figure=self.figure,
            meter=self.groove.meter,
            bars=conditions.bars,
            kinds=self.kinds,
            lead=self.lead,
            beats=self.beats,
            earlier=earlier,
            kit=conditions.kit,
            player=conditions.player,
            tempo=conditions.tempo,
            per_step=conditions.per_step,
        )

    def plays_as(self, other: LessonFigure) -> bool:
        """Return True if both make the same fills, apart from cues and the choice of steps."""
        mine, theirs = self.figure, other.figure
        same_figure = (mine.strokes, mine.rhythms) == (theirs.strokes, theirs.rhythms)
        return same_figure and (self.groove, self.lead) == (other.groove, other.lead)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One [[figure]] table, its keys read one by one.

    Attributes:
        keys: names of the keys that it has.
        values: of those that can be read.
        path: of the table.
        mistakes: of the file.
    """

    keys: frozenset[str]
    values: Mapping[str, Any]
    path: KeyPath
    mistakes: Mistakes

    def add_mistake(self, key: str, message: str, kind: MistakeKind = MistakeKind.VALUE) -> None:
        """Add a mistake in a key."""
        self.mistakes.add((*self.path, key), message, kind)


def read_row(table: Mapping[str, Any], keys: Sequence[Key], path: KeyPath, mistakes: Mistakes) -> Row:
    """Read the keys of one [[figure]] table.

    Args:
        table: as TOML gives it.
        keys: `FIGURE_KEYS`, with the grooves of the file.
        path: of the table.
        mistakes: is added to.
    """
    values = read_keys(table, keys, path, mistakes)
    return Row(keys=frozenset(table), values=values, path=path, mistakes=mistakes)


def build_figure(
    row: Row, before: Sequence[LessonFigure], *, groove: Groove | None, kinds: tuple[StepKind, ...]
) -> LessonFigure | None:
    """Build the figure of a table.

    Args:
        row: the table.
        before: figures above it.
        groove: of the lesson; None where that can't be read.
        kinds: steps of the lesson.

    Returns:
        None where a mistake of its own prevents it; the row's mistakes are added to.
    """
    own_figures = [earlier.figure for earlier in before if earlier.figure.group == OWN_GROUP]
    figure = (
        _build_own_figure(row, own_figures) if "sticking" in row.keys else _find_taught_figure(row, own_figures)
    )
    groove = row.values.get("groove") or groove
    if figure is None or groove is None or not row.values.keys() >= {"groove", "lead", "steps", "beats", "cue"}:
        return None
    steps = row.values["steps"]
    lesson_figure = LessonFigure(
        figure=figure,
        rhythm=figure.rhythms[0] if "rhythm" in row.keys else None,
        groove=groove,
        lead=row.values["lead"] or (figure.lead if figure.group == OWN_GROUP else Limb.RIGHT),
        kinds=sort_steps(kinds if steps is None else steps),
        beats=row.values["beats"],
    )
    if any(earlier.plays_as(lesson_figure) for earlier in before):
        row.mistakes.add(
            row.path,
            f"The {figure.name} is in this lesson already; "
            "give it another rhythm, groove or lead, or remove it.",
            MistakeKind.FIT,
        )
        return None
    return lesson_figure


def sort_steps(kinds: Sequence[StepKind]) -> tuple[StepKind, ...]:
    """Return steps in teaching order."""
    return tuple(kind for kind in TEACHING_ORDER if kind in kinds)


def _build_own_figure(row: Row, own_figures: Sequence[Figure]) -> Figure | None:
    """Build a figure of the teacher's own: new name, sticking and rhythm."""
    name, slots = row.values.get("name"), row.values.get("sticking")
    if name and _is_taken(name, own_figures):
        row.add_mistake(
            "name", f'"{name}" is a figure already; leave the sticking out, or give it another name.'
        )
        name = None
    if "rhythm" not in row.keys:
        row.add_mistake(
            "rhythm",
            'A figure of your own needs its rhythm; write note values, such as "16".',
            MistakeKind.MISSING_KEY,
        )
    if slots is None:
        return None
    rhythm = _read_rhythm(row, len(slots))
    words = _read_cue(row, len(slots))
    if name is None or rhythm is None or words is None or "alternates" not in row.values:
        return None
    figure = Figure(name=name, group=OWN_GROUP, strokes=slots, rhythms=(rhythm,), cue=words)
    alternates = row.values["alternates"]
    return replace(figure, alternates=_ends_on_first_hand(slots) if alternates is None else alternates)


def _is_taken(name: str, own_figures: Sequence[Figure]) -> bool:
    names = (n for figure in (*own_figures, *load_rudiments()) for n in (figure.name, *figure.aliases))
    return normalize_name(name) in map(normalize_name, names)


def _ends_on_first_hand(slots: Sequence[Slot]) -> bool:
    hands = [slot.hand for slot in slots if slot]
    return hands[0] is hands[-1]


def _find_taught_figure(row: Row, own_figures: Sequence[Figure]) -> Figure | None:
    """Find a rudiment, or an own figure from further up."""
    if "alternates" in row.keys:
        row.add_mistake("alternates", "Only a figure with a sticking of its own has this key; leave it out.")
    name = row.values.get("name")
    if name is None:
        return None
    try:
        figure = find_named_figure(
            name, own_figures, otherwise="for one of your own, give its sticking and rhythm"
        )
    except UnknownNameError as error:
        row.mistakes.add_error((*row.path, "name"), error)
        return None
    words = _read_cue(row, len(figure.strokes))
    if words:
        figure = replace(figure, cue=words)
    if "rhythm" not in row.keys:
        return figure
    rhythm = _read_rhythm(row, len(figure.strokes))
    return replace(figure, rhythms=(rhythm,)) if rhythm else None


def _read_rhythm(row: Row, places: int) -> Rhythm | None:
    text = row.values.get("rhythm")
    if text is None:
        return None
    try:
        return parse_rhythm(text, places)
    except StickingError as error:
        row.mistakes.add_error((*row.path, "rhythm"), error)
        return None


def _read_cue(row: Row, places: int) -> tuple[str, ...] | None:
    """Return the words of the cue, none where there is no cue; None for a mistake."""
    words: tuple[str, ...] | None = row.values.get("cue")
    if words is None:
        return None if "cue" in row.keys else ()
    if len(words) != places:
        row.add_mistake(
            "cue",
            f"The cue has {len(words)} words for {places} strokes; write one for each, or - for none.",
        )
        return None
    return words
