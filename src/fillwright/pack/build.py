"""The pack: everything built for one lesson, written whole, rebuilt only where something changed."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fillwright.atomic import describe_reason, link_or_copy, write_folder
from fillwright.errors import FitError, OutputError
from fillwright.lesson.file import Lesson
from fillwright.lesson.fills import LessonFill, build_fills
from fillwright.pack.contents import list_recipes, name_files
from fillwright.pack.recipes import Recipe, hash_bytes
from fillwright.pack.run_sheet import format_precise, plan_demonstrations, sum_seconds
from fillwright.pack.size import check_pack_size
from fillwright.sound.samples.recorded_bank import RecordedBank

CONTENTS_FILE = "pack.json"
"""The list of contents of a pack, and the sign that a folder is one."""

_LARGEST_LIST_BYTES = 16_000_000  # some 100 times the list of a large lesson; ours
_MADE_OF_ALL = ("lesson.toml", "practice.html")
"""Files that change with anything in a lesson."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildReport:
    """The report of a build.

    Attributes:
        folder: the pack.
        fills: in teaching order.
        written: files written by this build, relative to the pack.
        kept: files taken over from the pack that was there.
        dropped: files of the old pack that the lesson no longer has; they are deleted.
        left_out: a sentence for each skipped step.
        demonstration_seconds: how long the recording of all demonstrations takes.
    """

    folder: Path
    fills: tuple[LessonFill, ...]
    written: tuple[str, ...]
    kept: tuple[str, ...]
    dropped: tuple[str, ...]
    left_out: tuple[str, ...]
    demonstration_seconds: float


@dataclass(slots=True, kw_only=True)
class _OldPack:
    """The pack that is in the folder already: what each of its files was made from."""

    folder: Path
    keys: dict[str, str] = field(default_factory=dict)
    digests: dict[str, str] = field(default_factory=dict)

    def holds(self, recipe: Recipe) -> bool:
        """Return True if every file of a recipe is there, made from the same and unchanged since."""
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
"""Called with the file just done, how many are done, and how many there are."""


def _ignore_progress(_path: str, _done: int, _total: int) -> None:
    pass


def build_pack(
    lesson: Lesson,
    text: str,
    folder: Path,
    *,
    progress: Progress = _ignore_progress,
    bank: RecordedBank | None = None,
) -> BuildReport:
    """Build everything for a lesson into a folder.

    A pack that is already there is rebuilt where something changed; files that no build put there stay.

    Args:
        lesson: what is built.
        text: the lesson file as written.
        folder: made if missing; if it holds anything, it must be a pack.
        progress: called with the file just done, and how many of how many.
        bank: recorded sounds to play it on; the modelled kit if left out.

    Raises:
        OutputError: where the folder can't be written or is not a pack; what was there is then untouched.
        FitError: where the lesson leaves all its fills out, or has too many for a pack.
    """
    held = build_fills(lesson)
    if not held.fills:
        raise FitError("The lesson leaves out all its fills; delete a name from leave_out.")
    check_pack_size(lesson, held.fills)
    folder = _resolve_folder(folder)
    _open_old_pack(folder)  # refuses a folder of something else before anything is written
    wanted = list_recipes(lesson, held.fills, text, bank=bank)
    total = sum(len(recipe.paths) for recipe in wanted)
    listed: dict[str, dict[str, str]] = {}
    old = _OldPack(folder=folder)
    with write_folder(folder, keep=lambda path: path not in old.keys and path != CONTENTS_FILE) as new:
        old = _open_old_pack(folder)
        kept = [recipe for recipe in wanted if old.holds(recipe)]
        fresh = [recipe for recipe in wanted if recipe not in kept]
        for recipe in kept:
            for path in recipe.paths:
                (new / path).parent.mkdir(parents=True, exist_ok=True)
                link_or_copy(folder / path, new / path)
                listed[path] = {"from": recipe.key, "sha256": old.digests[path]}
        progress("kept", len(listed), total)
        for recipe, contents_of in _make_all(fresh):
            for path, content in zip(recipe.paths, contents_of, strict=True):
                target = new / path
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(content)
                listed[path] = {"from": recipe.key, "sha256": hash_bytes(content)}
            progress(recipe.paths[0], len(listed), total)
        (new / CONTENTS_FILE).write_text(_format_list(lesson, held.fills, listed, bank), "utf-8")
    return BuildReport(
        folder=folder,
        fills=held.fills,
        written=_list_paths(fresh),
        kept=_list_paths(kept),
        dropped=tuple(sorted(old.keys.keys() - listed.keys())),
        left_out=held.left_out,
        demonstration_seconds=float(sum_seconds(plan_demonstrations(held.fills, count_in=lesson.count_in))),
    )


def is_current(
    folder: Path, lesson: Lesson, fills: tuple[LessonFill, ...], text: str, *, bank: RecordedBank | None = None
) -> bool:
    """Return True if a pack was made from just what it would be made from now; its files are not read.

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
    listed = _open_old_pack(_resolve_folder(folder)).keys
    return all(listed.get(name) == wanted[name].key for name in _MADE_OF_ALL)


def _list_paths(recipes: Iterable[Recipe]) -> tuple[str, ...]:
    return tuple(path for recipe in recipes for path in recipe.paths)


def _make_all(fresh: list[Recipe]) -> Iterator[tuple[Recipe, tuple[bytes, ...]]]:
    """Yield the contents of each recipe; the heavy ones run on threads during the engraving."""
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


def _resolve_folder(folder: Path) -> Path:
    """Return the folder without links and dots, so that a link to a folder stays a link.

    Raises:
        OutputError: where there can't be such a folder, or we may not look.
    """
    try:
        resolved = folder.resolve()
        resolved.is_dir()
    except OSError as error:
        raise OutputError(f'"{folder}" can\'t be the folder of a pack: {describe_reason(error)}.') from error
    except (RuntimeError, ValueError) as error:  # links in a circle, characters that no name has
        raise OutputError(f'"{folder}" can\'t be the folder of a pack; give another name.') from error
    return resolved


def _open_old_pack(folder: Path) -> _OldPack:
    """Read the pack that is in a folder; it is empty for a new or empty folder.

    Raises:
        OutputError: for a folder with something else in it.
    """
    old = _OldPack(folder=folder)
    if not folder.is_dir():
        return old
    try:
        inside = any(folder.iterdir())
        table = _read_list(folder / CONTENTS_FILE) if inside else {"files": {}}
        for path, row in table["files"].items():
            old.keys[path] = str(row["from"])
            old.digests[path] = str(row["sha256"])
    except FileNotFoundError as error:
        raise OutputError(
            f'"{folder}" holds other files but no pack; give a new folder, an empty one or a pack.'
        ) from error
    except PermissionError as error:
        raise OutputError(f'"{folder}" can\'t be read; give a folder that you may read.') from error
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise OutputError(
            f'The list of contents "{folder / CONTENTS_FILE}" can\'t be read; '
            "give another folder, or delete this one."
        ) from error
    return old


def _read_list(path: Path) -> Any:
    if path.stat().st_size > _LARGEST_LIST_BYTES:
        raise ValueError("the list is too long")
    return json.loads(path.read_text("utf-8"))


def _format_list(
    lesson: Lesson,
    fills: tuple[LessonFill, ...],
    listed: dict[str, dict[str, str]],
    bank: RecordedBank | None,
) -> str:
    """Write the list of contents: the same text for the same pack. It names the bank where there is one."""
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
