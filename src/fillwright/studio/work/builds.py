"""Packs built in the background, one at a time, with their progress.

What is being built is known to this process only. A lesson has a folder with its packs in it, numbered; a pack
gets its number in one step when it is whole, and the one before it stays until the next, since somebody may be
taking it away. So a studio that is killed at any moment shows the pack as it was before.
"""

from __future__ import annotations

import json
import logging
import os
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Lock

from fillwright.errors import FillwrightError
from fillwright.pack.build import LIST, build_pack
from fillwright.sound.samples.recorded_bank import RecordedBank
from fillwright.studio.work.lessons import Worked

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

    def start(self, found: Worked, folder: Path, bank: RecordedBank | None = None) -> None:
        """Build a lesson's pack into the folder of its packs, unless that is going on.

        Args:
            found: the lesson.
            folder: of its packs.
            bank: recorded sounds to play it on; the modelled kit if left out.
        """
        with self._lock:
            before = self._running.get(folder)
            if before and not before.done():
                return
            self._progress[folder] = Progress(running=True)
            self._running[folder] = self._pool.submit(self._build, found, folder, bank)

    def progress(self, folder: Path) -> Progress | None:
        """How far the last build of a folder is; None where there was none."""
        with self._lock:
            return self._progress.get(folder)

    def close(self) -> None:
        """Begin no other build."""
        self._pool.shutdown(wait=False, cancel_futures=True)

    def _build(self, found: Worked, folder: Path, bank: RecordedBank | None) -> None:
        def told(what: str, done: int, total: int) -> None:
            self._note(folder, Progress(running=True, done=done, total=total, what=what))

        try:
            with _next(folder) as part:
                build_pack(found.lesson, found.text, part, progress=told, bank=bank)
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


def standing(folder: Path) -> Path | None:
    """The newest whole pack in the folder of a lesson's packs; None where there is none."""
    numbers = _numbers(folder)
    return folder / str(numbers[-1]) if numbers else None


def sounds_of_pack(pack: Path) -> str:
    """The name of the sounds that a pack was built with; "" for the modelled kit's."""
    return str(json.loads((pack / LIST).read_text("utf-8")).get("sounds", ""))


@contextmanager
def _next(folder: Path) -> Iterator[Path]:
    """A folder to build the next pack in, beginning with links to what the newest one holds.

    It becomes the next number where all went well; packs before the newest go, and what a killed build left.
    """
    folder.mkdir(parents=True, exist_ok=True)
    numbers = _numbers(folder)
    for left in folder.iterdir():
        if left.name not in map(str, numbers):
            shutil.rmtree(left, ignore_errors=True)
    part = folder / ".part"
    if numbers:
        shutil.copytree(folder / str(numbers[-1]), part, copy_function=os.link)
    yield part
    part.replace(folder / str(numbers[-1] + 1 if numbers else 1))
    for number in numbers[:-1]:
        shutil.rmtree(folder / str(number), ignore_errors=True)


def _numbers(folder: Path) -> list[int]:
    try:
        names = [path.parent.name for path in folder.glob(f"*/{LIST}")]
    except OSError:
        return []
    return sorted(int(name) for name in names if name.isascii() and name.isdigit())


def zipped(pack: Path, name: str) -> Iterator[bytes]:
    """A pack as a zip, block by block, in a folder of that name.

    The zip is put together in a file without a name first.
    """
    with tempfile.TemporaryFile() as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
            for path in sorted(pack.rglob("*")):
                if path.is_file():
                    archive.write(path, os.fspath(Path(name) / path.relative_to(pack)))
        file.seek(0)
        while block := file.read(_BLOCK):
            yield block
