"""Reading of a lesson file: a teacher's TOML text, checked strictly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any

from fillwright.craft.brief import TEACHING_ORDER, Brief, StepKind
from fillwright.craft.player.kits import Kit
from fillwright.craft.player.players import find_player
from fillwright.craft.steps import StepPlan
from fillwright.errors import MistakeKind, TableError
from fillwright.lesson.figures import (
    FillConditions,
    LessonFigure,
    Row,
    build_figure,
    read_row,
    sort_steps,
)
from fillwright.lesson.fill_checks import check_fills, check_rhythms_in_threes
from fillwright.lesson.written_fills import OwnFill, read_own_fills
from fillwright.music.figure import Figure
from fillwright.music.grooves import Groove
from fillwright.music.stroke import Limb
from fillwright.music.timing import Feel
from fillwright.sound.playalong.options import Click
from fillwright.tables.keys import read_keys, read_rows
from fillwright.tables.kits_and_grooves import OwnTables, collect_own_tables
from fillwright.tables.lesson_keys import FIGURE_KEYS, LESSON_FILE, LESSON_KEYS, MAX_FIGURES
from fillwright.tables.mistakes import Mistakes
from fillwright.tables.page_format import PageFormat
from fillwright.tables.toml_source import parse_toml, read_table_text
from fillwright.tables.values import Key, shorten

__all__ = ["Lesson", "LessonFigure", "parse_lesson", "read_demo_text", "read_lesson", "read_lesson_text"]

_TABLES = (*LESSON_FILE.rows, *LESSON_FILE.named)
_CONDITION_KEYS = frozenset({"bars", "kit", "hand", "level", "tempo"})
_LONGEST_FILE_NAME = 120  # characters that a sentence quotes; ours


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """A lesson, every name in it resolved.

    Attributes:
        number: in its series.
        title: of the lesson.
        series: "" where none is named.
        teacher: "" where none is named.
        goal: one sentence, or "".
        groove: of every figure that names none.
        tempo: the ladder, in bpm (beats of the meter), rising.
        bars: length of a phrase without the landing.
        kinds: steps of every figure that names none, in teaching order.
        per_step: most fills of one step.
        landing: names of the surfaces struck together on beat 1 after a fill; empty for no landing.
        level: of the player: "first-year", "steady", "gigging" or "professional".
        hand: the player's leading hand.
        kit: set up for that hand.
        page: paper size.
        audio: "mp3", "flac", "ogg" or "wav".
        click: clicks of the play-alongs after the count-in.
        count_in: bars of clicks before each play-along.
        feel: swing and flams.
        counting: True to print the counting line.
        rolls: "written" for long rolls written out, "short" for strokes through the stem.
        notes: for the student.
        earlier: figures taught earlier.
        figures: in the order of the lesson, at least one.
        leave_out: names of fills that are not wanted.
        order: names of fills that come before the others of their figure, in that order.
        own_fills: fills of the teacher's own.
        own_tables: grooves and kits of the teacher's own, used or not.
        notes_on_file: sentences about keys that are written under an old name.
        plans: plans that reading the file needed, with their briefs, so that they are not made again.
    """

    number: int
    title: str
    series: str
    teacher: str
    goal: str
    groove: Groove
    tempo: tuple[int, ...]
    bars: int
    kinds: tuple[StepKind, ...]
    per_step: int
    landing: tuple[str, ...]
    level: str
    hand: Limb
    kit: Kit
    page: PageFormat
    audio: str
    click: Click
    count_in: int
    feel: Feel
    counting: bool
    rolls: str
    notes: tuple[str, ...]
    earlier: tuple[Figure, ...]
    figures: tuple[LessonFigure, ...]
    leave_out: tuple[str, ...] = ()
    order: tuple[str, ...] = ()
    own_fills: tuple[OwnFill, ...] = ()
    own_tables: OwnTables = field(default_factory=OwnTables)
    notes_on_file: tuple[str, ...] = field(default=(), compare=False)
    plans: tuple[tuple[Brief, StepPlan], ...] = field(default=(), compare=False, repr=False)

    @property
    def conditions(self) -> FillConditions:
        """Conditions of its fills; hands are exchanged later, so the kit is the right-handed one."""
        return FillConditions(
            bars=self.bars,
            kit=_turn_to_right(self.kit, self.hand),
            player=find_player(self.level),
            tempo=self.tempo[0],
            per_step=self.per_step,
        )

    def list_briefs(self) -> tuple[Brief, ...]:
        """Return a brief for each figure; the figures before it count as taught earlier.

        >>> [brief.figure.name for brief in parse_lesson(read_demo_text()).list_briefs()][:2]
        ['single stroke four', 'five stroke roll']
        """
        taught = list(self.earlier)
        briefs = []
        for figure in self.figures:
            briefs.append(figure.make_brief(self.conditions, tuple(taught)))
            taught.append(figure.figure)
        return tuple(briefs)


def read_lesson(path: Path) -> Lesson:
    """Read the lesson in a file.

    Raises:
        TableError: for a file that can't be read, and for its mistakes.
    """
    return parse_lesson(read_lesson_text(path), path.name)


def read_lesson_text(path: Path) -> str:
    """Read the text of a lesson file.

    Raises:
        TableError: for a file that can't be read.
    """
    return read_table_text(path, LESSON_FILE)


def read_demo_text() -> str:
    """Read the text of the demo lesson."""
    return files(__package__).joinpath("demo.toml").read_text("utf-8")


def parse_lesson(text: str, name: str = "lesson.toml") -> Lesson:
    """Parse the text of a lesson; `docs/lesson-file.md` describes its keys.

    Args:
        text: TOML.
        name: of the file, as mistakes show it.

    Raises:
        TableError: with every mistake, its line and its key.
    """
    name = shorten(name, _LONGEST_FILE_NAME)
    table, places = parse_toml(text, name, LESSON_FILE)
    if not text.removeprefix("\ufeff").strip():
        message = "This file is empty; a lesson needs a number, a title and a [[figure]]."
        raise TableError.of(message, file=name, kind=MistakeKind.FILE)
    mistakes = Mistakes(name=name, places=places, kind=LESSON_FILE)
    own_tables = collect_own_tables(table, mistakes)
    top = read_keys(table, own_tables.extend_keys(LESSON_KEYS), (), mistakes, tables=_TABLES)
    _check_landing(top, mistakes)
    pairs = _read_figures(table, top, mistakes, keys=own_tables.extend_keys(FIGURE_KEYS))
    conditions = _build_conditions(top) if top.keys() >= _CONDITION_KEYS else None
    plans = _check_all_fills(pairs, conditions, top.get("earlier")) if conditions else ()
    figures = tuple(figure for figure, _ in pairs if figure)
    fills = read_own_fills(table, figures, conditions, mistakes) if figures else ()
    mistakes.raise_any()
    notes: list[str] = []
    mistakes.warn_of_renamed(notes.append)
    values = {**top, "own_tables": own_tables, "notes_on_file": tuple(notes), "plans": plans}
    return _build_lesson(values, figures, fills)


def _build_lesson(
    top: Mapping[str, Any], figures: tuple[LessonFigure, ...], fills: tuple[OwnFill, ...]
) -> Lesson:
    values = dict(top)
    for key in ("series", "teacher", "goal"):
        values[key] = values[key] or ""
    values["kinds"] = sort_steps(values.pop("steps"))
    values["landing"] = tuple(surface.name for surface in values["landing"])
    values["kit"] = _turn_to_hand(values["kit"], values["hand"])
    values["feel"] = Feel(swing=values.pop("swing"), flam_ms=float(values.pop("flam_ms")))
    return Lesson(**values, figures=figures, own_fills=fills)


def _turn_to_hand(kit: Kit, hand: Limb) -> Kit:
    """Return a kit as a player sets it up: the other way round for the left-handed, unless it is already."""
    return kit.mirror() if hand is Limb.LEFT and not kit.mirrored else kit


def _turn_to_right(kit: Kit, hand: Limb) -> Kit:
    """Return a player's kit as fills are planned on it, hands being exchanged only later."""
    return _turn_to_hand(kit, hand).mirror() if hand is Limb.LEFT else kit


def _check_landing(top: Mapping[str, Any], mistakes: Mistakes) -> None:
    hands = [surface.name for surface in top.get("landing", ()) if not surface.foot]
    if len(hands) > 2:
        listed = f"{', '.join(hands[:-1])} and {hands[-1]}"
        message = f"{listed} are {len(hands)} surfaces for two hands; keep at most two of them."
        mistakes.add(("landing",), message, MistakeKind.FIT)


def _read_figures(
    table: Mapping[str, Any], top: Mapping[str, Any], mistakes: Mistakes, *, keys: Sequence[Key]
) -> list[tuple[LessonFigure | None, Row]]:
    """Read every figure of the file; None for one with a mistake."""
    pairs: list[tuple[LessonFigure | None, Row]] = []
    for index, row_table in enumerate(_list_figure_tables(table, mistakes)):
        if mistakes.full:
            break
        row = read_row(row_table, keys, ("figure", index), mistakes)
        before = [figure for figure, _ in pairs if figure]
        kinds = top.get("steps", TEACHING_ORDER)
        pairs.append((build_figure(row, before, groove=top.get("groove"), kinds=kinds), row))
    return pairs


def _build_conditions(top: Mapping[str, Any]) -> FillConditions:
    return FillConditions(
        bars=top["bars"],
        kit=_turn_to_right(top["kit"], top["hand"]),
        player=find_player(top["level"]),
        tempo=top["tempo"][0],
        per_step=top.get("per_step", 1),
    )


def _check_all_fills(
    pairs: Sequence[tuple[LessonFigure | None, Row]],
    conditions: FillConditions,
    earlier: tuple[Figure, ...] | None,
) -> tuple[tuple[Brief, StepPlan], ...]:
    """Check the fills of every figure; after one that can't be read, not all that was taught earlier is known.

    Returns:
        Plans that were needed for it.
    """
    if not check_rhythms_in_threes([(figure, row) for figure, row in pairs if figure]):
        return ()
    plans = []
    for figure, row in pairs:
        if figure is None:
            earlier = None
            continue
        plan = check_fills(figure, row, conditions, earlier)
        if plan:
            plans.append(plan)
        earlier = None if earlier is None else (*earlier, figure.figure)
    return tuple(plans)


def _list_figure_tables(table: Mapping[str, Any], mistakes: Mistakes) -> list[dict[str, Any]]:
    before = mistakes.count
    tables = read_rows(table, "figure", mistakes)
    if not tables and mistakes.count == before:
        message = 'There is no figure; write [[figure]] and below it name = "single paradiddle".'
        mistakes.add(("figure",), message, MistakeKind.MISSING_KEY)
    if len(tables) > MAX_FIGURES:
        message = f"There are {len(tables)} figures; a lesson has at most {MAX_FIGURES}."
        mistakes.add(("figure", MAX_FIGURES), message)
    return tables[:MAX_FIGURES]
