"""The figures of a lesson file: from one [[figure]] table to a figure and what is asked of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from fillwright.craft.brief import TEACHING_ORDER, Brief, StepKind, material
from fillwright.craft.player.kits import Kit
from fillwright.craft.player.players import Player
from fillwright.craft.steps import plan
from fillwright.errors import FitError, SpanError, StickingError, UnknownNameError
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.grooves import Groove
from fillwright.music.notevalue import format_value
from fillwright.music.rudiments import plain, rhythm, rudiments
from fillwright.music.stroke import Limb, Slot
from fillwright.tables.keys import Key, named_figure
from fillwright.tables.lines import Path
from fillwright.tables.mistakes import Mistakes, read_keys


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What all figures of a lesson stand on.

    Attributes:
        bars: of a phrase.
        kit: what is played on, as a right-handed player has it.
        player: who plays.
        tempo: the slowest of the ladder.
        per_step: how many fills a step may have.
    """

    bars: int
    kit: Kit
    player: Player
    tempo: int
    per_step: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonFigure:
    """One figure of a lesson and what is asked of it.

    Attributes:
        figure: with its cue; where the teacher gave a rhythm, with that one only.
        rhythm: the rhythm the teacher gave, as written; None where the figure's own are used.
        groove: played before its fills; its meter is the meter of the phrase.
        lead: the hand of the first stroke.
        kinds: the steps wanted, in teaching order.
        beats: further spans, in last beats.
    """

    figure: Figure
    rhythm: Rhythm | None
    groove: Groove
    lead: Limb
    kinds: tuple[StepKind, ...]
    beats: tuple[Fraction, ...] = ()

    def brief(self, ground: Ground, earlier: tuple[Figure, ...] = ()) -> Brief:
        """What is asked of the figure, for `craft.steps.plan`.

        The brief leaves the rhythm to the figure, which has the teacher's only: so triplets become eighths
        where a meter goes in threes, as they do for a rudiment.
        """
        return Brief(
            figure=self.figure,
            meter=self.groove.meter,
            bars=ground.bars,
            kinds=self.kinds,
            lead=self.lead,
            beats=self.beats,
            earlier=earlier,
            kit=ground.kit,
            player=ground.player,
            tempo=ground.tempo,
            per_step=ground.per_step,
        )

    def plays_as(self, other: LessonFigure) -> bool:
        """Whether both make the same fills, cues and choice of steps apart."""
        mine, theirs = self.figure, other.figure
        same_figure = (mine.strokes, mine.rhythms) == (theirs.strokes, theirs.rhythms)
        return same_figure and (self.groove, self.lead) == (other.groove, other.lead)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One [[figure]] table, its keys read one by one.

    Attributes:
        given: the keys that stand in it.
        values: what they read as; a key that can't be read is left out.
        path: where the table stands.
        mistakes: of the file.
    """

    given: frozenset[str]
    values: Mapping[str, Any]
    path: Path
    mistakes: Mistakes

    def wrong(self, key: str, sentence: str) -> None:
        """Note a mistake in a key."""
        self.mistakes.add((*self.path, key), sentence)


def read_row(table: Mapping[str, Any], keys: Sequence[Key], path: Path, mistakes: Mistakes) -> Row:
    """Read the keys of one [[figure]] table: those of `FIGURE_KEYS`, as the file at hand reads them."""
    values = read_keys(table, keys, path, mistakes)
    return Row(given=frozenset(table), values=values, path=path, mistakes=mistakes)


def build_figure(
    row: Row, before: Sequence[LessonFigure], *, groove: Groove | None, kinds: tuple[StepKind, ...]
) -> LessonFigure | None:
    """The figure of a table.

    Args:
        row: the table.
        before: the figures above it.
        groove: the lesson's groove; None where that can't be read.
        kinds: the lesson's steps.

    Returns:
        None where a mistake of its own stands in the way; the row's mistakes are added to.
    """
    own = [each.figure for each in before if each.figure.group == "own"]
    figure = _own_figure(row, own) if "sticking" in row.given else _taught_figure(row, own)
    groove = row.values.get("groove") or groove
    if figure is None or groove is None or not row.values.keys() >= {"groove", "lead", "steps", "beats", "cue"}:
        return None
    steps = row.values["steps"]
    made = LessonFigure(
        figure=figure,
        rhythm=figure.rhythms[0] if "rhythm" in row.given else None,
        groove=groove,
        lead=row.values["lead"] or (figure.lead if figure.group == "own" else Limb.RIGHT),
        kinds=in_order(kinds if steps is None else steps),
        beats=row.values["beats"],
    )
    if any(each.plays_as(made) for each in before):
        row.mistakes.add(
            row.path,
            f"The {figure.name} stands in this lesson already; give it another rhythm, groove or lead, "
            "or leave it out.",
        )
        return None
    return made


def in_order(kinds: Sequence[StepKind]) -> tuple[StepKind, ...]:
    """Steps in teaching order."""
    return tuple(kind for kind in TEACHING_ORDER if kind in kinds)


def _own_figure(row: Row, own: Sequence[Figure]) -> Figure | None:
    """A figure of the teacher's own: new name, sticking and rhythm."""
    name, slots = row.values.get("name"), row.values.get("sticking")
    if name and _taken(name, own):
        row.wrong(
            "name", f'"{name}" is a figure already; leave the sticking out, or find a name of your own for it.'
        )
        name = None
    if "rhythm" not in row.given:
        row.wrong("rhythm", 'A figure of your own needs its rhythm; write note values, such as "16".')
    if slots is None:
        return None
    played = _rhythm(row, len(slots))
    words = _cue(row, len(slots))
    if name is None or played is None or words is None or "alternates" not in row.values:
        return None
    figure = Figure(name=name, group="own", strokes=slots, rhythms=(played,), cue=words)
    alternates = row.values["alternates"]
    return replace(figure, alternates=_ends_as_it_starts(slots) if alternates is None else alternates)


def _taken(name: str, own: Sequence[Figure]) -> bool:
    names = (n for figure in (*own, *rudiments()) for n in (figure.name, *figure.aliases))
    return plain(name) in map(plain, names)


def _ends_as_it_starts(slots: Sequence[Slot]) -> bool:
    hands = [slot.hand for slot in slots if slot]
    return hands[0] is hands[-1]


def _taught_figure(row: Row, own: Sequence[Figure]) -> Figure | None:
    """A rudiment, or an own figure from further up."""
    if "alternates" in row.given:
        row.wrong("alternates", "Only a figure with a sticking of its own takes this key; leave it out.")
    name = row.values.get("name")
    if name is None:
        return None
    try:
        figure = named_figure(name, own, otherwise="for one of your own, give its sticking and rhythm")
    except UnknownNameError as error:
        row.wrong("name", str(error))
        return None
    words = _cue(row, len(figure.strokes))
    if words:
        figure = replace(figure, cue=words)
    if "rhythm" not in row.given:
        return figure
    played = _rhythm(row, len(figure.strokes))
    return replace(figure, rhythms=(played,)) if played else None


def _rhythm(row: Row, places: int) -> Rhythm | None:
    text = row.values.get("rhythm")
    if text is None:
        return None
    try:
        return rhythm(text, places)
    except StickingError as error:
        row.wrong("rhythm", str(error))
        return None


def _cue(row: Row, places: int) -> tuple[str, ...] | None:
    """The words of the cue, none at all where there is no cue; None for a mistake."""
    words: tuple[str, ...] | None = row.values.get("cue")
    if words is None:
        return None if "cue" in row.given else ()
    if len(words) != places:
        row.wrong(
            "cue",
            f"The cue has {len(words)} words for {places} strokes; write one for each, or - for none.",
        )
        return None
    return words


def check_fills(figure: LessonFigure, row: Row, ground: Ground, earlier: tuple[Figure, ...] | None) -> None:
    """Note every span that the figure does not fill, and a figure that makes no fill at all.

    Args:
        figure: of the row.
        row: its mistakes are added to.
        ground: of the lesson.
        earlier: figures taught earlier; None where they are not all known, so that there is no telling
            whether a fill can be made.
    """
    brief = figure.brief(ground, earlier or ())
    for number, beats in enumerate(brief.beats):
        if row.mistakes.full:
            return
        try:
            material(brief, beats)
        except (FitError, SpanError) as error:
            row.mistakes.add((*row.path, "beats", number), f"{_sentence(str(error))}")
    if brief.beats or earlier is None:
        return
    if not brief.kinds:
        row.wrong("steps", "No step is named here and no beats are; name a step, or a span with beats.")
        return
    try:
        reason = _why_no_fill(brief)
    except FitError as error:
        row.mistakes.add(row.path, _sentence(str(error)))
        return
    if reason:
        row.mistakes.add(
            row.path,
            f"No fill can be made here ({reason}); try another rhythm, other steps or a span with beats.",
        )


def _why_no_fill(brief: Brief) -> str:
    """The reason why the first step is left out, or "" as soon as one step makes a fill."""
    reason = ""
    for kind in brief.kinds:
        made = plan(replace(brief, kinds=(kind,), beats=()))
        if made.steps:
            return ""
        reason = reason or made.left_out[0].rstrip(".")
    return reason


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:]


def check_rhythms_in_threes(pairs: Sequence[tuple[LessonFigure, Row]]) -> bool:
    """Note rhythms that a beat of a dotted quarter can't hold: dotted notes beside triplets.

    A triplet is stretched to an eighth there, and a dotted note by as much is no single note. A figure is also
    mixed into the fills of others, so every meter of the lesson counts.

    Returns:
        Whether there are none.
    """
    meters = [figure.groove.meter for figure, _ in pairs if figure.groove.meter.counts_in_three]
    wrong = [row for figure, row in pairs if meters and figure.rhythm and _has_both(figure.rhythm)]
    for row in wrong:
        row.wrong(
            "rhythm",
            f"Triplets and dotted notes together can't be written in {meters[0].name}, which this lesson "
            "plays in; write the triplets as eighths.",
        )
    return not wrong


def _has_both(played: Rhythm) -> bool:
    values = [format_value(length) for length in played.lengths]
    return any(value.endswith("t") for value in values) and any(value.endswith(".") for value in values)
