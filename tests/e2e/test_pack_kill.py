"""A pack whose build is killed -9 at random moments is there whole, and the next build goes on from it.

FILLWRIGHT_KILLS sets the number of kills; `make soak` sets 50.
"""

from __future__ import annotations

import hashlib
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from random import Random

KILLS = int(os.environ.get("FILLWRIGHT_KILLS", "3"))
SEED = 12
LESSON = """number = 1
title = "Small"
tempo = [{tempo}]
bars = 1
audio = "ogg"

[[figure]]
name = "single paradiddle"
steps = ["last beat"]
"""
TEXTS = [LESSON.format(tempo=tempo) for tempo in (110, 120)]
MINE = {"notes.txt": "mine", "own/picture.txt": "mine"}


def start_build(folder: Path, text: str) -> subprocess.Popen[bytes]:
    (folder / "lesson.toml").write_text(text)
    words = ["-m", "fillwright.cli", "lesson", "lesson.toml", "-o", "packs/pack", "--quiet"]
    return subprocess.Popen([sys.executable, *words], cwd=folder)


def check_whole(pack: Path) -> str:
    """Check every file of a pack against its list; return the pack's lesson."""
    listed = json.loads((pack / "pack.json").read_text("utf-8"))["files"]
    for name, row in listed.items():
        assert hashlib.sha256((pack / name).read_bytes()).hexdigest() == row["sha256"], name
    found = {path.relative_to(pack).as_posix() for path in pack.rglob("*") if path.is_file()}
    assert found == listed.keys() | {"pack.json"} | MINE.keys()
    for name, content in MINE.items():
        assert (pack / name).read_text() == content
    return (pack / "lesson.toml").read_text()


def test_killed_builds_leave_the_old_or_the_new_pack(tmp_path: Path) -> None:
    pack = tmp_path / "packs" / "pack"
    assert start_build(tmp_path, TEXTS[0]).wait() == 0
    for name, content in MINE.items():
        (pack / name).parent.mkdir(exist_ok=True)
        (pack / name).write_text(content)
    began = time.monotonic()
    assert start_build(tmp_path, TEXTS[1]).wait() == 0
    seconds = time.monotonic() - began
    random = Random(SEED)
    killed = 0
    for number in range(KILLS):
        with start_build(tmp_path, TEXTS[number % 2]) as build:
            time.sleep(random.uniform(0.3, 1.1) * seconds)
            build.send_signal(signal.SIGKILL)
            killed += build.wait() == -signal.SIGKILL
        assert check_whole(pack) in TEXTS
    for text in TEXTS:
        assert start_build(tmp_path, text).wait() == 0
        assert check_whole(pack) == text
    assert os.listdir(pack.parent) == ["pack"]
    assert killed
