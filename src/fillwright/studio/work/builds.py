"""Packs built in processes of their own, with their progress.

Only this process knows the running builds. Each lesson has a folder with its packs in it, numbered. A pack
gets its number in one step when it is complete. The one before it stays until the next, because somebody may be
downloading it. So a studio that is killed at any moment shows the pack as it was before.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Lock

from fillwright import budget
from fillwright.isolation.run import run_isolated
from fillwright.pack.build import CONTENTS_FILE
from fillwright.studio.work.isolated import build_lesson_pack
from fillwright.studio.work.lessons import PlannedLesson
from fillwright.studio.work.queue import Job, JobState, WorkKind, WorkQueue
from fillwright.studio.work.scratch import delete_scratch, make_scratch

_BLOCK_BYTES = 1 << 20
"""Bytes of a zip that are sent at a time: 1 MiB. Ours."""

_PROGRESS_FILE = "progress.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildProgress:
    """Progress of a build.

    Attributes:
        running: True while it runs or waits for its turn.
        place: in the queue, from 1; 0 once it runs.
        done: number of files written.
        total: number of files to write; 0 while it is unknown.
        text: file just written, or the reason of a failure.
        failed: True for a build that stopped with an error.
    """

    running: bool
    place: int = 0
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

    def __init__(self, queue: WorkQueue | None = None, run: Callable[..., bytes] = run_isolated) -> None:
        """Start without any builds.

        Args:
            queue: in which they wait, with other work.
            run: calls a function in a process of its own.
        """
        self.queue = queue or WorkQueue()
        self._run = run
        self._jobs: dict[Path, tuple[Job, Path]] = {}
        self._lock = Lock()

    def start(self, planned: PlannedLesson, folder: Path, *, teacher: int, sounds: Path | None = None) -> None:
        """Put the build of a lesson's pack into the queue, unless it is there already.

        Args:
            planned: lesson to build.
            folder: of its packs.
            teacher: number of its teacher.
            sounds: recorded sounds to play it on; the modelled kit by default.
        """
        with self._lock:
            earlier = self._jobs.get(folder)
            if earlier and earlier[0].is_pending:
                return
            scratch = make_scratch()

            def work(job: Job) -> str:
                self._build(job, planned, folder, sounds, scratch / _PROGRESS_FILE)
                return ""

            job = self.queue.add(WorkKind.PACK, work, teacher=teacher, clean_up=lambda: delete_scratch(scratch))
            self._jobs[folder] = (job, scratch / _PROGRESS_FILE)

    def cancel(self, folder: Path) -> None:
        """Cancel the build of a folder, if it runs or waits."""
        with self._lock:
            job, _ = self._jobs.get(folder, (None, None))
        if job:
            self.queue.cancel(job)

    def progress(self, folder: Path) -> BuildProgress | None:
        """Return the progress of the last build of a folder, None if there was none or it was cancelled."""
        with self._lock:
            job, path = self._jobs.get(folder, (None, folder))
        if job is None or job.state is JobState.CANCELLED:
            return None
        if not job.is_pending:
            return BuildProgress(running=False, text=str(job.error or ""), failed=job.error is not None)
        if job.stop.is_set():
            return None
        text, done, total = _read_progress(path)
        return BuildProgress(running=True, place=self.queue.place(job), done=done, total=total, text=text)

    def close(self) -> None:
        """Cancel everything that is in the queue."""
        self.queue.close()

    def _build(
        self, job: Job, planned: PlannedLesson, folder: Path, sounds: Path | None, progress: Path
    ) -> None:
        with _begin_pack(folder) as part:
            self._run(
                build_lesson_pack,
                planned.text,
                planned.before,
                str(part),
                str(sounds or ""),
                str(progress),
                seconds=budget.PACK_SECONDS,
                megabytes=budget.PACK_MEGABYTES,
                subject="The pack",
                stop=job.stop,
            )


def _read_progress(path: Path) -> tuple[str, int, int]:
    """Read how far a build is: file just written, files written, files to write."""
    try:
        text, done, total = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return "", 0, 0
    return str(text), int(done), int(total)


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

    It gets the next number if all goes well. Older packs and the remains of builds that failed are deleted.
    """
    folder.mkdir(parents=True, exist_ok=True)
    numbers = _list_numbers(folder)
    _delete_remains(folder, numbers)
    part = folder / ".part"
    if numbers:
        shutil.copytree(folder / str(numbers[-1]), part, copy_function=os.link)
    try:
        yield part
        part.replace(folder / str(numbers[-1] + 1 if numbers else 1))
    except Exception:
        _delete_remains(folder, numbers)
        raise
    for number in numbers[:-1]:
        shutil.rmtree(folder / str(number), ignore_errors=True)


def _delete_remains(folder: Path, numbers: list[int]) -> None:
    """Delete everything but the numbered packs."""
    for entry in folder.iterdir():
        if entry.name in map(str, numbers):
            continue
        if entry.is_dir() and not entry.is_symlink():
            shutil.rmtree(entry, ignore_errors=True)
        else:
            entry.unlink(missing_ok=True)


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
