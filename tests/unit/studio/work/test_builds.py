"""Packs in the studio: shown whole or not at all."""

from __future__ import annotations

import errno
import io
import time
import zipfile

import pytest

from fillwright.errors import OutputError
from fillwright.pack.build import CONTENTS_FILE
from fillwright.studio.work import isolated
from fillwright.studio.work.builds import Builds, find_newest_pack, zip_pack
from fillwright.studio.work.full_disk import FULL_DISK
from fillwright.studio.work.lessons import plan_text
from fillwright.studio.work.queue import WorkQueue
from tests.studio import LESSON


class _Killed(BaseException):
    """As if the process ended: nothing tidies up."""


@pytest.fixture
def written(monkeypatch):
    """Packs of two files; the name of what stops the build may be set."""
    stops = []

    def build_pack(lesson, text, folder, *, progress, bank):
        folder.mkdir(exist_ok=True)
        (folder / "lesson.toml").unlink(missing_ok=True)
        (folder / "lesson.toml").write_text(text, "utf-8")
        if stops:
            raise stops.pop()
        (folder / CONTENTS_FILE).write_text('{"files": {}}', "utf-8")
        progress("pack", 2, 2)

    monkeypatch.setattr(isolated, "build_pack", build_pack)
    return stops


def _call(work, *arguments, stop, **_limits):
    """Call the function in this process, where a test can replace what it calls."""
    assert not stop.is_set()
    return work(*arguments)


def _make_builds():
    return Builds(run=_call)


def _build(made, text, folder):
    made.start(plan_text(text), folder, teacher=1)
    assert made._jobs[folder][0].ended.wait(timeout=60)
    return made.progress(folder)


def _built_from(pack):
    return (pack / "lesson.toml").read_text("utf-8")


def _texts():
    return [LESSON.replace("Two hands", f"Version {number}") for number in range(5)]


def test_a_pack_has_the_next_number_and_the_one_before_stays(written, tmp_path):
    made, folder = _make_builds(), tmp_path / "lesson-1"
    assert find_newest_pack(folder) is None
    for number, text in enumerate(_texts(), start=1):
        _build(made, text, folder)
        assert find_newest_pack(folder) == folder / str(number)
        assert _built_from(find_newest_pack(folder)) == text
    assert sorted(path.name for path in folder.iterdir()) == ["4", "5"]
    assert _built_from(folder / "4") == _texts()[3]
    made.close()


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_build_that_is_killed_leaves_the_pack_before_and_no_rubbish_for_long(written, tmp_path):
    made, folder = _make_builds(), tmp_path / "lesson-1"
    first, second, third, *_ = _texts()
    _build(made, first, folder)
    written.append(_Killed())
    (folder / ".fillwright-x.part").mkdir()
    _build(made, second, folder)
    assert _built_from(find_newest_pack(folder)) == first
    _build(made, third, folder)
    assert _built_from(find_newest_pack(folder)) == third
    assert sorted(path.name for path in folder.iterdir()) == ["1", "2"]
    made.close()


def test_a_failed_build_says_why(written, tmp_path):
    made, folder = _make_builds(), tmp_path / "lesson-1"
    written.append(OutputError("The folder can't be written."))
    failed = _build(made, LESSON, folder)
    assert (failed.running, failed.failed, failed.text) == (False, True, "The folder can't be written.")
    assert list(folder.iterdir()) == []
    written.append(OSError(errno.ENOSPC, "no space"))
    assert _build(made, LESSON, folder).text == FULL_DISK
    assert find_newest_pack(folder) is None
    assert not _build(made, LESSON, folder).failed
    made.close()


def test_a_pack_is_taken_away_as_it_stands(written, tmp_path):
    made, folder = _make_builds(), tmp_path / "lesson-1"
    _build(made, LESSON, folder)
    blocks = zip_pack(find_newest_pack(folder), "lesson-7")
    content = next(blocks)
    _build(made, _texts()[0], folder)
    with zipfile.ZipFile(io.BytesIO(content + b"".join(blocks))) as archive:
        assert sorted(archive.namelist()) == ["lesson-7/lesson.toml", f"lesson-7/{CONTENTS_FILE}"]
        assert archive.read("lesson-7/lesson.toml").decode("utf-8") == LESSON
    made.close()


def test_a_folder_of_another_name_is_no_pack(tmp_path):
    for name in ("x", ".part", "1x", "٣"):
        (tmp_path / name).mkdir()
        (tmp_path / name / CONTENTS_FILE).write_text("{}", "utf-8")
    (tmp_path / "4").mkdir()
    assert find_newest_pack(tmp_path) is None


@pytest.mark.parametrize("is_running", [True, False], ids=["running", "waiting"])
def test_a_cancelled_build_leaves_the_pack_before(written, tmp_path, is_running):
    """The build is the real one, in a process of its own."""
    folder, before = tmp_path / "lesson-1", tmp_path / "lesson-0"
    _build(_make_builds(), LESSON, folder)
    made = Builds(WorkQueue(cores=1))
    if not is_running:
        made.start(plan_text(_texts()[1]), before, teacher=1)
    made.start(plan_text(_texts()[0]), folder, teacher=1)
    progress = made.progress(folder)
    assert progress.running
    assert progress.place == (0 if is_running else 1)
    deadline = time.monotonic() + 60
    while is_running and not made.progress(folder).done and time.monotonic() < deadline:
        time.sleep(0.05)
    made.cancel(folder)
    assert made._jobs[folder][0].ended.wait(timeout=20)
    assert made.progress(folder) is None
    assert [path.name for path in folder.iterdir()] == ["1"]
    assert _built_from(folder / "1") == LESSON
    made.close()
