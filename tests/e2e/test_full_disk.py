"""A full disk is one sentence and exit status 2, for everything that is written; nothing half written stays."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

LESSON = """number = 1
title = "Small"
tempo = [120]
bars = 1
audio = "wav"

[[figure]]
name = "single paradiddle"
steps = ["last beat"]
"""
FILL = ["--figure", "single paradiddle", "--step", "last beat", "--bars", "1", "--tempo", "120"]
COMMANDS = {
    "pack": ["lesson", "lesson.toml", "-o", "{disk}/pack"],
    "playalong": ["playalong", *FILL, "-o", "{disk}/a.wav"],
    "clip": ["clip", *FILL, "-o", "{disk}/a.mp4"],
    "report": ["listen", "take.wav", "--against", "take.mid", "-o", "{disk}/report"],
    "backup": ["backup", "--folder", "studio", "-o", "{disk}/a.zip"],
}


def run(folder: Path, *words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "fillwright.cli", *words],
        cwd=folder,
        env=os.environ | environment,
        check=False,
        capture_output=True,
        text=True,
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a lesson, a take, its music and a studio."""
    place = tmp_path_factory.mktemp("place")
    (place / "lesson.toml").write_text(LESSON)
    for name in ("take.wav", "take.mid"):
        words = ["sheet", *FILL] if name.endswith("mid") else ["playalong", *FILL, "--count-in", "0"]
        done = run(place, *words, "-o", name)
        assert done.returncode == 0, done.stderr
    code = "from pathlib import Path; from fillwright.studio.serve import *; set_up(Path('studio'))"
    made = subprocess.run([sys.executable, "-c", code], cwd=place, check=False, capture_output=True, text=True)
    assert made.returncode == 0, made.stderr
    return place


@contextmanager
def mount_disk(place: Path, filling: int) -> Iterator[Path]:
    """Mount a disk of 16 kB in memory, with a file on it."""
    mount = ["mount", "-t", "tmpfs", "-o", "size=16k", "tmpfs", str(place)]
    try:
        mounted = subprocess.run(mount, check=False, capture_output=True).returncode == 0
    except OSError:
        mounted = False
    if not mounted:
        pytest.skip("needs root, and a system that lets it mount a disk in memory")
    try:
        (place / "filling").write_bytes(bytes(filling))
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


@pytest.fixture(scope="module")
def disk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A full disk."""
    with mount_disk(tmp_path_factory.mktemp("disk"), 16_384) as place:
        yield place


@pytest.fixture(scope="module")
def temporary(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A disk with 8 kB left: Python takes a temporary folder only if it can write a little there."""
    with mount_disk(tmp_path_factory.mktemp("temporary"), 8_192) as place:
        yield place


@pytest.mark.parametrize("name", COMMANDS)
def test_a_full_disk_is_one_sentence(folder: Path, disk: Path, name: str) -> None:
    done = run(folder, *(word.format(disk=disk) for word in COMMANDS[name]))
    assert done.returncode == 2, done.stderr
    assert done.stderr.strip().count("\n") == 0, done.stderr
    assert str(disk) in done.stderr
    assert "the disk is full" in done.stderr
    assert os.listdir(disk) == ["filling"]


@pytest.mark.parametrize("name", ["pack", "clip"])
def test_a_full_temporary_folder_is_one_sentence(
    folder: Path, temporary: Path, tmp_path: Path, name: str
) -> None:
    words = (word.format(disk=tmp_path) for word in COMMANDS[name])
    done = run(folder, *words, TMPDIR=str(temporary))
    assert done.returncode == 2, done.stderr
    assert done.stderr.strip() == f'The temporary folder "{temporary}" can\'t be used: the disk is full.'
    assert os.listdir(temporary) == ["filling"]
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("name", COMMANDS)
def test_a_limit_on_file_sizes_is_one_sentence(folder: Path, tmp_path: Path, name: str) -> None:
    resource = pytest.importorskip("resource")
    words = [word.format(disk=tmp_path) for word in COMMANDS[name]]
    code = (
        f"import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (2_000, {resource.RLIM_INFINITY})); "
    )
    code += "from fillwright.cli.main import main; sys.exit(main(sys.argv[1:]))"
    done = subprocess.run(
        [sys.executable, "-c", code, *words], cwd=folder, check=False, capture_output=True, text=True
    )
    assert done.returncode == 2, done.stderr
    assert done.stderr.strip().count("\n") == 0, done.stderr
    assert "can't be" in done.stderr
    assert os.listdir(tmp_path) == []
