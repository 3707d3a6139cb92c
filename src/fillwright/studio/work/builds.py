"""Packs built in the background, one at a time, with their progress.

Only this process knows the running builds. Each lesson has a folder with its packs in it, numbered. A pack
gets its number in one step when it is complete. The one before it stays until the next, because somebody may be
downloading it. So a studio that is killed at any moment shows the pack as it was before.
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
from fillwright.pack.build import CONTENTS_FILE, build_pack
from fillwright.sound.samples.recorded_bank import RecordedBank
from fillwright.studio.work.lessons import PlannedLesson

_LOG = logging.getLogger("fillwright.studio")

_BLOCK_BYTES = 1 << 20
"""Bytes of a zip that are sent at a time: 1 MiB. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildProgress:
    """Progress of a build.

    Attributes:
        running: True while it runs or waits for its turn.
        done: number of files written.
        total: number of files to write; 0 while it is unknown.
        text: file just written, or the reason of a failure.
        failed: True for a build that stopped with an error.
    """

    running: bool
    done: int = 0
    total: int = 0
    text: str = ""
    failed: bool = False

    @property
    def percent(self) -> int:
        """Part done, in percent."""
        return 100 * self.done // self.total if self.total else 0


class Builds:
    """Every build since the studio was started. Mutable, and safe among threads."""

    def __init__(self) -> None:
        """Start without any builds."""
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="build")
        self._progress: dict[Path, BuildProgress] = {}
        self._running: dict[Path, Future[None]] = {}
        self._lock = Lock()

    def start(self, planned: PlannedLesson, folder: Path, bank: RecordedBank | None = None) -> None:
        """Start to build a lesson's pack, unless that is running already.

        Args:
            planned: lesson to build.
            folder: of its packs.
            bank: recorded sounds to play it on; the modelled kit by default.
        """
        with self._lock:
            earlier = self._running.get(folder)
            if earlier and not earlier.done():
                return
            self._progress[folder] = BuildProgress(running=True)
            self._running[folder] = self._pool.submit(self._build, planned, folder, bank)

    def progress(self, folder: Path) -> BuildProgress | None:
        """Return the progress of the last build of a folder, None if there was none."""
        with self._lock:
            return self._progress.get(folder)

    def close(self) -> None:
        """Stop starting builds."""
        self._pool.shutdown(wait=False, cancel_futures=True)

    def _build(self, planned: PlannedLesson, folder: Path, bank: RecordedBank | None) -> None:
        def report_file(name: str, done: int, total: int) -> None:
            self._set_progress(folder, BuildProgress(running=True, done=done, total=total, text=name))

        try:
            with _begin_pack(folder) as part:
                build_pack(planned.lesson, planned.text, part, progress=report_file, bank=bank)
        except (FillwrightError, OSError) as error:
            self._set_progress(folder, BuildProgress(running=False, text=str(error), failed=True))
        except Exception:
            _LOG.exception("building %s", folder)
            sentence = "The pack can't be built because of an error in Fillwright."
            self._set_progress(folder, BuildProgress(running=False, text=sentence, failed=True))
        else:
            self._set_progress(folder, BuildProgress(running=False))

    def _set_progress(self, folder: Path, progress: BuildProgress) -> None:
        with self._lock:
            self._progress[folder] = progress


def find_newest_pack(folder: Path) -> Path | None:
    """Return the newest complete pack in the folder of a lesson's packs, None if there is none."""
    numbers = _list_numbers(folder)
    return folder / str(numbers[-1]) if numbers else None


def read_sounds_name(pack: Path) -> str:
    """Return the name of the sounds that a pack was built with, "" for the modelled kit."""
    return str(json.loads((pack / CONTENTS_FILE).read_text("utf-8")).get("sounds", ""))


@contextmanager
def _begin_pack(folder: Path) -> Iterator[Path]:
    """Begin the next pack in a folder of its own, with links to the files of the newest one.

    It gets the next number if all goes well. Older packs and the remains of killed builds are deleted.
    """
    folder.mkdir(parents=True, exist_ok=True)
    numbers = _list_numbers(folder)
    for entry in folder.iterdir():
        if entry.name not in map(str, numbers):
            shutil.rmtree(entry, ignore_errors=True)
    part = folder / ".part"
    if numbers:
        shutil.copytree(folder / str(numbers[-1]), part, copy_function=os.link)
    yield part
    part.replace(folder / str(numbers[-1] + 1 if numbers else 1))
    for number in numbers[:-1]:
        shutil.rmtree(folder / str(number), ignore_errors=True)


def _list_numbers(folder: Path) -> list[int]:
    try:
        names = [path.parent.name for path in folder.glob(f"*/{CONTENTS_FILE}")]
    except OSError:
        return []
    return sorted(int(name) for name in names if name.isascii() and name.isdigit())


def zip_pack(pack: Path, name: str) -> Iterator[bytes]:
    """Zip a pack and yield it block by block, all files in a folder of that name.

    The zip is written to a temporary file first.
    """
    with tempfile.TemporaryFile() as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
            for path in sorted(pack.rglob("*")):
                if path.is_file():
                    archive.write(path, os.fspath(Path(name) / path.relative_to(pack)))
        file.seek(0)
        while block := file.read(_BLOCK_BYTES):
            yield block
