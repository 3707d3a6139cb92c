"""Packs in the studio: shown whole or not at all."""

from __future__ import annotations

import io
import zipfile
from contextlib import suppress

import pytest
from tests.studio import LESSON

from fillwright.pack.build import CONTENTS_FILE
from fillwright.studio.work import builds
from fillwright.studio.work.builds import Builds, find_newest_pack, zip_pack
from fillwright.studio.work.lessons import plan_text


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
        (folder / CONTENTS_FILE).write_text("{}", "utf-8")
        progress("pack", 2, 2)

    monkeypatch.setattr(builds, "build_pack", build_pack)
    return stops


def _build(made, text, folder):
    made.start(plan_text(text), folder)
    with suppress(_Killed):
        made._running[folder].result(timeout=60)
    return made.progress(folder)


def _built_from(pack):
    return (pack / "lesson.toml").read_text("utf-8")


def _texts():
    return [LESSON.replace("Two hands", f"Version {number}") for number in range(5)]


def test_a_pack_has_the_next_number_and_the_one_before_stays(written, tmp_path):
    made, folder = Builds(), tmp_path / "lesson-1"
    assert find_newest_pack(folder) is None
    for number, text in enumerate(_texts(), start=1):
        _build(made, text, folder)
        assert find_newest_pack(folder) == folder / str(number)
        assert _built_from(find_newest_pack(folder)) == text
    assert sorted(path.name for path in folder.iterdir()) == ["4", "5"]
    assert _built_from(folder / "4") == _texts()[3]
    made.close()


def test_a_build_that_is_killed_leaves_the_pack_before_and_no_rubbish_for_long(written, tmp_path):
    made, folder = Builds(), tmp_path / "lesson-1"
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
    made, folder = Builds(), tmp_path / "lesson-1"
    written.append(OSError("the disk is full"))
    failed = _build(made, LESSON, folder)
    assert (failed.running, failed.failed, failed.text) == (False, True, "the disk is full")
    assert find_newest_pack(folder) is None
    assert not _build(made, LESSON, folder).failed
    made.close()


def test_a_pack_is_taken_away_as_it_stands(written, tmp_path):
    made, folder = Builds(), tmp_path / "lesson-1"
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
