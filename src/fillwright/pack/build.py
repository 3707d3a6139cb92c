"""The pack: everything built for one lesson, written whole, rebuilt only where something changed."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fillwright.atomic import folder_written_whole, reason
from fillwright.errors import FitError, OutputError
from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill, contents
from fillwright.pack.contents import name_files, list_recipes
from fillwright.pack.recipes import Recipe, hash_bytes
from fillwright.pack.run_sheet import plan_demonstrations, format_precise, sum_seconds
from fillwright.sound.samples.recorded_bank import RecordedBank

CONTENTS_FILE = "pack.json"
"""The list of contents of a pack, and the sign that a folder is one."""

_LARGEST_LIST_BYTES = 16_000_000
_MADE_OF_ALL = ("lesson.toml", "practice.html")
"""Files that change with anything in a lesson."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildReport:
    """What a build did.

    Attributes:
        folder: the pack.
        fills: in teaching order.
        made: files made anew, relative to the pack.
        kept: files taken over from the pack that was there.
        dropped: files of the old pack that the lesson no longer has.
        left_out: a sentence for each step that could not be made.
        demonstration_seconds: how long the recording of all demonstrations takes.
    """

    folder: Path
    fills: tuple[LessonFill, ...]
    made: tuple[str, ...]
    kept: tuple[str, ...]
    dropped: tuple[str, ...]
    left_out: tuple[str, ...]
    demonstration_seconds: float


@dataclass(slots=True, kw_only=True)
class _Shelf:
    """The pack that was there: what each file was made from."""

    folder: Path
    keys: dict[str, str] = field(default_factory=dict)
    digests: dict[str, str] = field(default_factory=dict)

    def holds(self, recipe: Recipe) -> bool:
        """Whether every file of a recipe is there, made from the same, and untouched since."""
        return all(
            self.keys.get(path) == recipe.key and self.digests[path] == self._digest(path)
            for path in recipe.paths
        )

    def _digest(self, path: str) -> str:
        try:
            return hash_bytes((self.folder / path).read_bytes())
        except OSError:
            return ""


Progress = Callable[[str, int, int], None]
"""Told the file just done, how many are done, and how many there are."""


def _quiet(_what: str, _done: int, _total: int) -> None:
    pass


def build_pack(
    lesson: Lesson,
    text: str,
    folder: Path,
    *,
    progress: Progress = _quiet,
    bank: RecordedBank | None = None,
) -> BuildReport:
    """Build everything for a lesson into a folder.

    A pack that is already there is rebuilt where something changed; other people's files in it stay.

    Args:
        lesson: what is built.
        text: the lesson file as written.
        folder: made if missing; if it holds anything, it must be a pack.
        progress: told what was just done, and how many files of how many.
        bank: recorded sounds to play it on; the modelled kit if left out.

    Raises:
        OutputError: where the folder can't be written or is not a pack; what was there is then untouched.
        FitError: where the lesson leaves all its fills out.
    """
    held = contents(lesson)
    if not held.fills:
        raise FitError("The lesson leaves out every fill it has; take a name out of leave_out.")
    folder = _place(folder)
    shelf = _open(folder)
    wanted = list_recipes(lesson, held.fills, text, bank=bank)
    kept = [recipe for recipe in wanted if shelf.holds(recipe)]
    fresh = [recipe for recipe in wanted if recipe not in kept]
    total = sum(len(recipe.paths) for recipe in wanted)
    listed: dict[str, dict[str, str]] = {}
    with folder_written_whole(folder) as new:
        for recipe in kept:
            for path in recipe.paths:
                _carry(folder / path, new / path)
                listed[path] = {"from": recipe.key, "sha256": shelf.digests[path]}
        progress("kept", len(listed), total)
        for recipe, contents_of in _made(fresh):
            for path, content in zip(recipe.paths, contents_of, strict=True):
                target = new / path
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(content)
                listed[path] = {"from": recipe.key, "sha256": hash_bytes(content)}
            progress(recipe.paths[0], len(listed), total)
        for path in _strangers(folder, shelf):
            _carry(folder / path, new / path)
        (new / CONTENTS_FILE).write_text(_list(lesson, held.fills, listed, bank), "utf-8")
    return BuildReport(
        folder=folder,
        fills=held.fills,
        made=_paths(fresh),
        kept=_paths(kept),
        dropped=tuple(sorted(shelf.keys.keys() - listed.keys())),
        left_out=held.left_out,
        demonstration_seconds=float(sum_seconds(plan_demonstrations(held.fills, count_in=lesson.count_in))),
    )


def is_current(
    folder: Path, lesson: Lesson, fills: tuple[LessonFill, ...], text: str, *, bank: RecordedBank | None = None
) -> bool:
    """Whether a pack was made of just what it would be made of now; its files are not looked at.

    Args:
        folder: of the pack.
        lesson: as it stands in its series.
        fills: that it makes.
        text: the lesson file as written.
        bank: recorded sounds to play it on; the modelled kit if left out.

    Raises:
        OutputError: where the folder holds something else.
    """
    wanted = {recipe.paths[0]: recipe for recipe in list_recipes(lesson, fills, text, bank=bank)}
    listed = _open(_place(folder)).keys
    return all(listed.get(name) == wanted[name].key for name in _MADE_OF_ALL)


def _paths(made: Iterable[Recipe]) -> tuple[str, ...]:
    return tuple(path for recipe in made for path in recipe.paths)


def _made(fresh: list[Recipe]) -> Iterator[tuple[Recipe, tuple[bytes, ...]]]:
    """The contents of each recipe; the heavy ones on threads beside the engraving."""
    pool = ThreadPoolExecutor(max_workers=max(1, (os.cpu_count() or 2)))
    try:
        waiting = [(recipe, pool.submit(recipe.make)) for recipe in fresh if recipe.heavy]
        for recipe in fresh:
            if not recipe.heavy:
                yield recipe, recipe.make()
        for recipe, result in waiting:
            yield recipe, result.result()
    finally:
        pool.shutdown(cancel_futures=True)


def _place(folder: Path) -> Path:
    """The folder without links and dots, so that a link to a folder stays what it is.

    Raises:
        OutputError: where there can't be such a folder, or we may not look.
    """
    try:
        place = folder.resolve()
        place.is_dir()
    except OSError as error:
        raise OutputError(f'"{folder}" can\'t be the folder of a pack: {reason(error)}.') from error
    except (RuntimeError, ValueError) as error:  # links in a circle, characters that no name has
        raise OutputError(f'"{folder}" can\'t be the folder of a pack; give another name.') from error
    return place


def _open(folder: Path) -> _Shelf:
    """The pack in a folder, or an empty shelf where there is none.

    Raises:
        OutputError: for a folder with something else in it.
    """
    shelf = _Shelf(folder=folder)
    if not folder.is_dir():
        return shelf
    try:
        inside = any(folder.iterdir())
        table = _table(folder / CONTENTS_FILE) if inside else {"files": {}}
        for path, row in table["files"].items():
            shelf.keys[path] = str(row["from"])
            shelf.digests[path] = str(row["sha256"])
    except FileNotFoundError as error:
        raise OutputError(
            f'"{folder}" holds other files and no pack; give a folder that is new, empty or a pack.'
        ) from error
    except PermissionError as error:
        raise OutputError(f'"{folder}" can\'t be read; give a folder of your own.') from error
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise OutputError(
            f'The list of contents "{folder / CONTENTS_FILE}" can\'t be read; give another folder, or delete this one.'
        ) from error
    return shelf


def _table(path: Path) -> Any:
    if path.stat().st_size > _LARGEST_LIST_BYTES:
        raise ValueError("no pack has so long a list")
    return json.loads(path.read_text("utf-8"))


def _strangers(folder: Path, shelf: _Shelf) -> list[str]:
    """Files and empty folders in the old pack that we did not put there."""
    if not folder.is_dir():
        return []
    paths = (path for path in folder.rglob("*") if not path.is_dir() or path.is_symlink() or _is_empty(path))
    names = (path.relative_to(folder).as_posix() for path in paths)
    return sorted(name for name in names if name not in shelf.keys and name != CONTENTS_FILE)


def _is_empty(folder: Path) -> bool:
    return not any(folder.iterdir())


def _carry(old: Path, new: Path) -> None:
    """Take a file over without copying it where the disk allows."""
    new.parent.mkdir(parents=True, exist_ok=True)
    if os.path.lexists(new):
        return
    if old.is_dir() and not old.is_symlink():
        new.mkdir()
        return
    try:
        os.link(old, new, follow_symlinks=False)
    except OSError:
        shutil.copy2(old, new, follow_symlinks=False)


def _list(
    lesson: Lesson,
    fills: tuple[LessonFill, ...],
    listed: dict[str, dict[str, str]],
    bank: RecordedBank | None,
) -> str:
    """The list of contents, the same text for the same pack; it names the bank where there is one."""
    table = {
        "number": lesson.number,
        "title": lesson.title,
        "series": lesson.series,
        "tempos": lesson.tempo,
        **({"sounds": bank.name} if bank else {}),
        "demonstrations": format_precise(sum_seconds(plan_demonstrations(fills, count_in=lesson.count_in))),
        "fills": [
            {
                "number": fill.number,
                "figure": fill.step.figure.name,
                "step": fill.step.kind.value,
                "caption": fill.caption,
                "rhythm": fill.rhythm,
                "grade": fill.step.route.grade,
                "ceiling": fill.ceiling,
                "reason": fill.reason,
                "tempos": fill.ladder,
                "groove": fill.groove,
                "meter": fill.phrase.meter.name,
                "files": name_files(lesson, fill),
            }
            for fill in fills
        ],
        "files": dict(sorted(listed.items())),
    }
    return json.dumps(table, ensure_ascii=False, indent=1) + "\n"
