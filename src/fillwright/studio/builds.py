"""Packs built in the background, one at a time, with their progress.

What is being built is known to this process only; what was built stands on the disk, whole or not at all
(`lesson.pack`). So a studio that is killed shows the pack as it was before.
"""

from __future__ import annotations

import logging
import os
import tempfile
import zipfile
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from threading import Lock

from fillwright.errors import FillwrightError
from fillwright.lesson.pack import LIST, build_pack
from fillwright.studio.work import Worked

_LOG = logging.getLogger("fillwright.studio")
_BLOCK = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far a build is.

    Attributes:
        running: whether it goes on or waits for its turn.
        done: files done.
        total: files there are; 0 while that is not known.
        what: the file just done, or why the build failed.
        failed: whether it did.
    """

    running: bool
    done: int = 0
    total: int = 0
    what: str = ""
    failed: bool = False

    @property
    def share(self) -> int:
        """Part done, in percent."""
        return 100 * self.done // self.total if self.total else 0


class Builds:
    """Every build since the studio was started. Mutable, and safe among threads."""

    def __init__(self) -> None:
        """None so far."""
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="build")
        self._progress: dict[Path, Progress] = {}
        self._running: dict[Path, Future[None]] = {}
        self._lock = Lock()

    def start(self, found: Worked, folder: Path) -> None:
        """Build a lesson's pack into a folder, unless that is going on."""
        with self._lock:
            before = self._running.get(folder)
            if before and not before.done():
                return
            self._progress[folder] = Progress(running=True)
            self._running[folder] = self._pool.submit(self._build, found, folder)

    def progress(self, folder: Path) -> Progress | None:
        """How far the last build of a folder is; None where there was none."""
        with self._lock:
            return self._progress.get(folder)

    def close(self) -> None:
        """Begin no other build."""
        self._pool.shutdown(wait=False, cancel_futures=True)

    def _build(self, found: Worked, folder: Path) -> None:
        def told(what: str, done: int, total: int) -> None:
            self._note(folder, Progress(running=True, done=done, total=total, what=what))

        try:
            folder.parent.mkdir(parents=True, exist_ok=True)
            build_pack(found.lesson, found.text, folder, progress=told)
        except (FillwrightError, OSError) as error:
            self._note(folder, Progress(running=False, what=str(error), failed=True))
        except Exception:
            _LOG.exception("building %s", folder)
            self._note(folder, Progress(running=False, what="Something broke while it was built.", failed=True))
        else:
            self._note(folder, Progress(running=False))

    def _note(self, folder: Path, progress: Progress) -> None:
        with self._lock:
            self._progress[folder] = progress


def is_built(folder: Path) -> bool:
    """Whether a whole pack stands in a folder."""
    return (folder / LIST).is_file()


def built_from(folder: Path) -> str | None:
    """The text that the pack was built from; None where there is no pack."""
    try:
        return (folder / "lesson.toml").read_text("utf-8") if is_built(folder) else None
    except OSError:
        return None


def zipped(folder: Path) -> Iterator[bytes]:
    """A pack as a zip, block by block.

    The zip is put together in a file without a name first: a pack that is rebuilt meanwhile is not mixed with
    its successor beyond the file being read.
    """
    with tempfile.TemporaryFile() as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
            for path in sorted(folder.rglob("*")):
                if path.is_file():
                    archive.write(path, os.fspath(Path(folder.name) / path.relative_to(folder)))
        file.seek(0)
        while block := file.read(_BLOCK):
            yield block
