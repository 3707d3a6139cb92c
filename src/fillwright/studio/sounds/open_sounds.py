"""The sounds that a teacher chose: the modelled kit, or a SoundFont or folder in the studio's folder of sounds.

A name from a visitor never becomes a path: it is compared with the names in the folder.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import islice
from pathlib import Path

from fillwright import budget
from fillwright.errors import FillwrightError
from fillwright.isolation.run import IsolatedError, run_isolated
from fillwright.pack.recipes import hash_bytes, hash_program
from fillwright.sound.model.bank import SoundBank, default_bank
from fillwright.sound.samples.folder_map import MAP
from fillwright.sound.samples.recorded_bank import RecordedBank
from fillwright.store.settings import read_settings
from fillwright.studio.web.request import PageRequest
from fillwright.studio.work.isolated import check_sounds
from fillwright.studio.work.shared_results import share_results
from fillwright.tables.sounds import SOUNDFONT_SUFFIXES, open_sounds
from fillwright.tables.values import shorten

_LOG = logging.getLogger("fillwright.studio")

SETTING = "sounds"
"""Name of the setting; its value is a name in the folder, or "" for the modelled kit."""

_LONGEST_NAME = 120
"""Characters of a name that can be chosen. Ours."""

_MOST_FILES = 20_000
"""Files of a folder that are checked for changes. Ours."""

_DIGEST_LETTERS = 32
"""Hexadecimal digits of a digest in an address: 128 bits. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sounds:
    """Open sounds, equal if their digests are.

    Attributes:
        digest: of the program and of everything that they depend on.
        name: in the folder; "" for the modelled kit.
        recordings: None for the modelled kit.
        problem: sentence that says why the modelled kit plays instead of the chosen sounds; "" if it does not.
        warnings: sentences about missing or broken recordings, which the modelled kit replaces.
    """

    digest: str
    name: str = field(default="", compare=False)
    recordings: RecordedBank | None = field(default=None, compare=False)
    problem: str = field(default="", compare=False)
    warnings: tuple[str, ...] = field(default=(), compare=False)

    @property
    def bank(self) -> SoundBank:
        """Sounds that play."""
        return self.recordings or default_bank()


@cache
def get_modelled_kit() -> Sounds:
    """Return the modelled kit."""
    return Sounds(digest=_hash_program(""))


def open_chosen_sounds(request: PageRequest) -> Sounds:
    """Open the sounds that the visitor's teacher chose."""
    with request.begin_reading() as transaction:
        name = str(read_settings(transaction).get(SETTING, ""))
    return open_by_name(request.setup.sounds, name)  # after the transaction, because it may take a while


def open_by_name(folder: Path, name: str) -> Sounds:
    """Open the sounds of a name in a folder; return the modelled kit with its `problem` set if that fails."""
    if not name:
        return get_modelled_kit()
    path = list_sounds(folder).get(name)
    if path is None:
        return replace(get_modelled_kit(), problem=f'"{shorten(name)}" is no longer in the folder of sounds.')
    return _open_path(path, _read_stamp(path))


def list_sounds(folder: Path) -> Mapping[str, Path]:
    """List the sounds that can be chosen, by name. Links that lead out of the folder are skipped."""
    try:
        root = folder.resolve()
        return {path.name: path for path in sorted(root.iterdir()) if _may_be_chosen(path, root)}
    except (OSError, RuntimeError):
        return {}


def _may_be_chosen(path: Path, root: Path) -> bool:
    name = path.name
    if name.startswith(".") or not name.isprintable() or len(name) > _LONGEST_NAME:
        return False
    try:
        if path.is_dir():
            return all(root in entry.resolve().parents for entry in (path, path / MAP))
        return path.suffix.lower() in SOUNDFONT_SUFFIXES and path.is_file() and root in path.resolve().parents
    except (OSError, RuntimeError):  # no permission, or links in a circle
        return False


def _read_stamp(path: Path) -> tuple[tuple[str, int, int], ...]:
    """Return names, times and sizes of all files, which change with their contents."""
    stamps = []
    for entry in (path, *islice(path.rglob("*"), _MOST_FILES)):
        try:
            state = entry.stat()
        except OSError:
            continue
        stamps.append((str(entry), state.st_mtime_ns, state.st_size))
    return tuple(sorted(stamps))


@share_results(maxsize=8)
def _open_path(path: Path, stamp: tuple[tuple[str, int, int], ...]) -> Sounds:
    """Open sounds after a process of its own has opened and played them. The stamp is part of the cache key."""
    del stamp
    try:
        checked = run_isolated(
            check_sounds,
            str(path),
            seconds=budget.SOUNDS_SECONDS,
            megabytes=budget.PACK_MEGABYTES,
            subject=f'"{path.name}"',
        )
        warnings = json.loads(checked)
        recordings = open_sounds(path, warn=lambda _: None, name=path.name)
    except FillwrightError as error:
        return replace(get_modelled_kit(), problem=str(error))
    except IsolatedError:
        _LOG.exception("opening sounds")
        problem = f'"{path.name}" can\'t be opened because of an error in Fillwright.'
        return replace(get_modelled_kit(), problem=problem)
    return Sounds(
        digest=_hash_program(recordings.digest),
        name=path.name,
        recordings=recordings,
        warnings=tuple(warnings),
    )


def _hash_program(of_sounds: str) -> str:
    return hash_bytes((hash_program() + of_sounds).encode("utf-8"))[:_DIGEST_LETTERS]
