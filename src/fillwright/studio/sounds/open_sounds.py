"""The sounds that a teacher chose: the modelled kit's, or what lies in the studio's folder of sounds.

What a visitor sends is never made into a path: it is compared with the names that the folder itself has.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import islice
from pathlib import Path

from fillwright.errors import SoundsError
from fillwright.music.surfaces import surfaces
from fillwright.pack.recipes import digest, program_digest
from fillwright.sound.model.bank import SoundBank, default_bank
from fillwright.sound.model.instrument import ACCENT
from fillwright.sound.samples.folder_map import MAP
from fillwright.sound.samples.open import SUFFIXES, open_sounds
from fillwright.sound.samples.recorded_bank import RecordedBank
from fillwright.store.settings import settings
from fillwright.studio.web.request import Ask
from fillwright.studio.work.once import once
from fillwright.tables.keys import shown

SETTING = "sounds"
"""Name of the setting; its value is a name in the folder, or "" for the modelled kit."""

_LONGEST_NAME = 120
_MOST_FILES = 20_000
_DIGEST_LETTERS = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Sounds:
    """Sounds that were opened; alike where their digests are.

    Attributes:
        digest: of the program and of everything that they depend on.
        name: as the folder has it; "" for the modelled kit.
        recordings: None for the modelled kit.
        wrong: why the modelled kit plays in place of what was chosen, in a sentence; "" where it does not.
        said: sentences about what is missing or broken in them, while the modelled kit stands in for that.
    """

    digest: str
    name: str = field(default="", compare=False)
    recordings: RecordedBank | None = field(default=None, compare=False)
    wrong: str = field(default="", compare=False)
    said: tuple[str, ...] = field(default=(), compare=False)

    @property
    def bank(self) -> SoundBank:
        """What plays."""
        return self.recordings or default_bank()


@cache
def modelled() -> Sounds:
    """The modelled kit."""
    return Sounds(digest=_digest(""))


def sounds_of(ask: Ask) -> Sounds:
    """The sounds of the teacher at whose desk a visitor is."""
    with ask.reading() as desk:
        name = str(settings(desk).get(SETTING, ""))
    return opened(ask.setup.sounds, name)  # which may take a while, and nobody waits for the store


def opened(folder: Path, name: str) -> Sounds:
    """The sounds of a name in a folder, or the modelled kit and the sentence that says why."""
    if not name:
        return modelled()
    path = listed(folder).get(name)
    if path is None:
        return replace(modelled(), wrong=f'"{shown(name)}" is no longer in the folder of sounds.')
    return _opened(path, _stamp(path))


def listed(folder: Path) -> Mapping[str, Path]:
    """What may be chosen, by name; links that lead out of the folder are passed over."""
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
            return all(root in each.resolve().parents for each in (path, path / MAP))
        return path.suffix.lower() in SUFFIXES and path.is_file() and root in path.resolve().parents
    except (OSError, RuntimeError):  # we may not look, or links in a circle
        return False


def _stamp(path: Path) -> tuple[tuple[str, int, int], ...]:
    """Changes with the files, without reading them."""
    found = []
    for each in (path, *islice(path.rglob("*"), _MOST_FILES)):
        try:
            state = each.stat()
        except OSError:
            continue
        found.append((str(each), state.st_mtime_ns, state.st_size))
    return tuple(sorted(found))


@once(maxsize=8)
def _opened(path: Path, stamp: tuple[tuple[str, int, int], ...]) -> Sounds:
    """Sounds with that stamp, each surface struck once, so that what they lack is known at once."""
    del stamp
    said: dict[str, None] = {}
    try:
        recordings = open_sounds(path, warn=said.setdefault)
        for name in surfaces():
            recordings.shot(name, ACCENT, 0)
        if not recordings.made:
            raise SoundsError(f'"{path.name}" has no sound that can be played.')
    except SoundsError as error:
        return replace(modelled(), wrong=_here(str(error), path))
    return Sounds(
        digest=_digest(recordings.digest),
        name=path.name,
        recordings=recordings,
        said=tuple(_here(sentence, path) for sentence in said),
    )


def _here(sentence: str, path: Path) -> str:
    """A sentence without the folder, whose place on this machine is nobody's business."""
    return sentence.replace(f"{path.parent}{os.sep}", "")


def _digest(of_sounds: str) -> str:
    return digest((program_digest() + of_sounds).encode("utf-8"))[:_DIGEST_LETTERS]
