"""Temporary folders: private, and none of a dead studio stays."""

from __future__ import annotations

import subprocess
import sys
import tempfile

import pytest

from fillwright.studio.work.scratch import delete_scratch, make_scratch, sweep_scratch


@pytest.fixture(autouse=True)
def temporary(monkeypatch, tmp_path):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr(tempfile, "tempdir", None)
    return tmp_path


def test_what_a_dead_studio_left_is_deleted_and_nothing_else(temporary):
    program = "from fillwright.studio.work.scratch import make_scratch; print(make_scratch())"
    left = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
    mine, other = make_scratch(), temporary / "fillwright-studio-notes"
    other.mkdir()
    (mine / "take.wav").write_bytes(b"RIFF")
    sweep_scratch()
    assert left.strip().startswith(str(temporary))
    assert sorted(temporary.iterdir()) == sorted([mine, other])
    assert mine.stat().st_mode & 0o077 == 0
    delete_scratch(mine)
    assert not mine.exists()
