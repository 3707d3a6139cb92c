"""The lesson file: a teacher's TOML text, checked strictly and read into values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any

from fillwright.craft.brief import TEACHING_ORDER, Brief, StepKind
from fillwright.craft.player.kits import Kit
from fillwright.craft.player.players import find_player
from fillwright.lesson.figures import (
    Ground,
    LessonFigure,
    Row,
    build_figure,
    check_fills,
    check_rhythms_in_threes,
    in_order,
    read_row,
)
from fillwright.lesson.written_fills import LessonOwnFill, own_fills
from fillwright.music.figure import Figure
from fillwright.music.grooves import Groove
from fillwright.music.stroke import Limb
from fillwright.music.timing import Feel
from fillwright.sound.playalong.options import Click
from fillwright.tables.keys import FIGURE_KEYS, LESSON_KEYS, MAX_FIGURES, Key, described, shown
from fillwright.tables.kits_and_grooves import OwnTables, own_tables
from fillwright.tables.mistakes import Mistakes, read_keys
from fillwright.tables.toml_source import parse_toml, read_text

__all__ = ["Lesson", "LessonFigure", "demo_text", "parse_lesson", "read_lesson"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """A lesson, every name in it resolved.

    Attributes:
        number: in its series.
        title: of the lesson.
        series: "" where none is named.
        teacher: "" where none is named.
        purpose: one sentence, or "".
        groove: of every figure that names none.
        tempo: the tempo ladder, in the meter's beats a minute, rising.
        bars: length of a phrase, the landing not counted.
        kinds: the steps of every figure that names none, in teaching order.
        per_step: how many fills a step may have.
        landing: names of the surfaces struck together on beat 1 after a fill; empty for no landing.
        level: of the player: "first-year", "steady", "gigging" or "professional".
        hand: the player's stronger hand.
        kit: what it is played on.
        page: "a4" or "letter".
        audio: "mp3", "flac", "ogg" or "wav".
        click: when a click sounds in the play-alongs after the count-in.
        count_in: bars of clicks before each play-along.
        feel: swing and flams.
        counting: whether the counting line is printed.
        rolls: "written" for long rolls written out, "short" for strokes through the stem.
        notes: for the student.
        earlier: figures taught earlier.
        figures: in the order of the lesson, at least one.
        leave_out: short names of fills that are not wanted.
        order: short names of fills that stand before the others of their figure, in that order.
        own_fills: fills of the teacher's own.
        own: grooves and kits of the teacher's own, whether they are played or not.
    """

    number: int
    title: str
    series: str
    teacher: str
    purpose: str
    groove: Groove
    tempo: tuple[int, ...]
    bars: int
    kinds: tuple[StepKind, ...]
    per_step: int
    landing: tuple[str, ...]
    level: str
    hand: Limb
    kit: Kit
    page: str
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
    own_fills: tuple[LessonOwnFill, ...] = ()
    own: OwnTables = field(default_factory=OwnTables)

    @property
    def ground(self) -> Ground:
        """What all its figures stand on; hands are exchanged later, so the kit is the right-handed one."""
        return Ground(
            bars=self.bars,
            kit=_right_handed(self.kit, self.hand),
            player=find_player(self.level),
            tempo=self.tempo[0],
            per_step=self.per_step,
        )

    def briefs(self) -> tuple[Brief, ...]:
        """One brief for each figure; the figures that stand before it count as taught earlier.

        >>> [brief.figure.name for brief in parse_lesson(demo_text()).briefs()][:2]
        ['single stroke four', 'five stroke roll']
        """
        taught = list(self.earlier)
        made = []
        for each in self.figures:
            made.append(each.brief(self.ground, tuple(taught)))
            taught.append(each.figure)
        return tuple(made)


def read_lesson(path: Path) -> Lesson:
    """The lesson in a file.

    Raises:
        LessonFileError: for a file that can't be read, and for its mistakes as `parse_lesson` tells them.
    """
    return parse_lesson(read_text(path), path.name)


def demo_text() -> str:
    """The text of the demo lesson."""
    return files(__package__).joinpath("demo.toml").read_text("utf-8")


def parse_lesson(text: str, name: str = "lesson.toml") -> Lesson:
    """The lesson in a text; `docs/lesson-file.md` describes its keys.

    Args:
        text: TOML.
        name: of the file, as mistakes name it.

    Raises:
        LessonFileError: every mistake on a line of its own, with file, line and key.
    """
    name = shown(name, 120)
    table, places = parse_toml(text, name)
    mistakes = Mistakes(name=name, places=places)
    own = own_tables(table, mistakes)
    top = read_keys(table, own.reading(LESSON_KEYS), (), mistakes)
    _check_landing(top, mistakes)
    figures = _figures(table, top, mistakes, keys=own.reading(FIGURE_KEYS))
    ground = _ground(top) if top.keys() >= _GROUND_KEYS else None
    fills = own_fills(table, figures, ground, mistakes) if figures else ()
    mistakes.raise_any()
    return _lesson({**top, "own": own}, figures, fills)


def _lesson(
    top: Mapping[str, Any], figures: tuple[LessonFigure, ...], fills: tuple[LessonOwnFill, ...]
) -> Lesson:
    values = dict(top)
    for key in ("series", "teacher", "purpose"):
        values[key] = values[key] or ""
    values["kinds"] = in_order(values.pop("steps"))
    values["landing"] = tuple(surface.name for surface in values["landing"])
    values["kit"] = _stands(values["kit"], values["hand"])
    values["feel"] = Feel(swing=values.pop("swing"), flam_ms=float(values.pop("flam_ms")))
    return Lesson(**values, figures=figures, own_fills=fills)


def _stands(kit: Kit, hand: Limb) -> Kit:
    """A kit as it stands before a player: the other way round for the left-handed, unless it is already."""
    return kit.mirror() if hand is Limb.LEFT and not kit.mirrored else kit


def _right_handed(kit: Kit, hand: Limb) -> Kit:
    """A player's kit as fills are planned on it, hands being exchanged only later."""
    return _stands(kit, hand).mirror() if hand is Limb.LEFT else kit


def _check_landing(top: Mapping[str, Any], mistakes: Mistakes) -> None:
    hands = [surface.name for surface in top.get("landing", ()) if not surface.foot]
    if len(hands) > 2:
        listed = f"{', '.join(hands[:-1])} and {hands[-1]}"
        mistakes.add(
            ("landing",), f"{listed} are {len(hands)} surfaces for two hands; keep at most two of them."
        )


def _figures(
    table: Mapping[str, Any], top: Mapping[str, Any], mistakes: Mistakes, *, keys: Sequence[Key]
) -> tuple[LessonFigure, ...]:
    """Every figure of the file that can be read, its fills tried."""
    made: list[tuple[LessonFigure | None, Row]] = []
    for index, row_table in enumerate(_figure_tables(table, mistakes)):
        if mistakes.full:
            break
        row = read_row(row_table, keys, ("figure", index), mistakes)
        before = [figure for figure, _ in made if figure]
        kinds = top.get("steps", TEACHING_ORDER)
        made.append((build_figure(row, before, groove=top.get("groove"), kinds=kinds), row))
    even = check_rhythms_in_threes([(figure, row) for figure, row in made if figure])
    if even and top.keys() >= _GROUND_KEYS:
        _try_fills(made, top)
    return tuple(figure for figure, _ in made if figure)


_GROUND_KEYS = frozenset({"bars", "kit", "hand", "level", "tempo"})


def _ground(top: Mapping[str, Any]) -> Ground:
    """What fills are tried on."""
    return Ground(
        bars=top["bars"],
        kit=_right_handed(top["kit"], top["hand"]),
        player=find_player(top["level"]),
        tempo=top["tempo"][0],
        per_step=1,
    )


def _try_fills(made: Sequence[tuple[LessonFigure | None, Row]], top: Mapping[str, Any]) -> None:
    """Try the fills of every figure; behind one that can't be read, what was taught earlier is not known."""
    earlier = top.get("earlier")
    ground = _ground(top)
    for figure, row in made:
        if figure is None:
            earlier = None
            continue
        check_fills(figure, row, ground, earlier)
        earlier = None if earlier is None else (*earlier, figure.figure)


def _figure_tables(table: Mapping[str, Any], mistakes: Mistakes) -> list[dict[str, Any]]:
    tables = table.get("figure", [])
    if not isinstance(tables, list) or not all(isinstance(each, dict) for each in tables):
        mistakes.add(
            ("figure",), f"Found {described(tables)}; write [[figure]] above each figure, its keys below."
        )
        return []
    if not tables:
        mistakes.add(
            ("figure",), 'There is no figure; write [[figure]] and below it name = "single paradiddle".'
        )
    if len(tables) > MAX_FIGURES:
        mistakes.add(
            ("figure", MAX_FIGURES), f"There are {len(tables)} figures; a lesson has at most {MAX_FIGURES}."
        )
    return tables[:MAX_FIGURES]
