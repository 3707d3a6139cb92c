"""Build the wheel, install it into an empty environment, and use it from another folder."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.request
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LESSON = """number = 1
title = "One fill"
bars = 1
tempo = [120]
audio = "wav"
[[figure]]
name = "single paradiddle"
steps = ["whole bar"]
"""
PATIENCE_SECONDS = 60
SOURCES = ("src", "pyproject.toml", "README.md", "LICENSE", "NOTICE")
PACKAGE_FILES = (".py", ".toml", ".typ", ".html", ".css", ".mjs", ".svg")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel from a copy of the sources, so that nothing is written into the tree."""
    folder = tmp_path_factory.mktemp("wheel")
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard", *SOURCES],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    for name in filter(None, listed.split("\0")):
        source = ROOT / name
        if source.is_file():
            (folder / "copy" / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / "copy" / name).write_bytes(source.read_bytes())
    _pip(sys.executable, "wheel", "--no-deps", "--wheel-dir", str(folder), str(folder / "copy"))
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Install the wheel into a new environment and return the folder of its commands."""
    folder = tmp_path_factory.mktemp("environment")
    subprocess.run([sys.executable, "-m", "venv", str(folder)], check=True)
    python = folder / "bin" / "python"
    _pip(str(python), "install", "--constraint", str(ROOT / "constraints.txt"), str(wheel))
    return folder / "bin"


def _pip(python: str, *words: str) -> None:
    command = [python, "-m", "pip", "--quiet", "--disable-pip-version-check", *words]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr


def _run(command: Path, *words: str, folder: Path) -> subprocess.CompletedProcess[str]:
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    return subprocess.run(
        [command, *words], cwd=folder, env=environment, check=False, capture_output=True, text=True
    )


def test_the_wheel_has_every_file_of_the_package(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        packed = set(archive.namelist())
    sources = (ROOT / "src").rglob("*")
    wanted = {
        path.relative_to(ROOT / "src").as_posix()
        for path in sources
        if path.suffix in PACKAGE_FILES and "__pycache__" not in path.parts and ".egg-info" not in str(path)
    }
    assert wanted <= packed


def test_a_lesson_is_built_from_another_folder(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "one.toml").write_text(LESSON)
    done = _run(installed / "fillwright", "lesson", "one.toml", "-o", "pack", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "pack" / "handout.pdf").read_bytes().startswith(b"%PDF")
    assert list((tmp_path / "pack" / "fills").glob("*/*.wav"))


def test_the_studio_serves_its_pages_and_its_icon(installed: Path, tmp_path: Path) -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = ["serve", "--folder", str(tmp_path / "studio"), "--port", str(port), "--no-browser", "--quiet"]
    with subprocess.Popen([installed / "fillwright", *words], cwd=tmp_path, stderr=subprocess.PIPE) as server:
        try:
            page = _fetch(f"http://127.0.0.1:{port}/")
            assert b"<html" in page
            assert b"<svg" in _fetch(f"http://127.0.0.1:{port}/static/mark.svg")
        finally:
            server.terminate()


def _fetch(address: str) -> bytes:
    """Return a page of the studio, waiting until the server answers."""
    deadline = time.monotonic() + PATIENCE_SECONDS
    while True:
        try:
            with urllib.request.urlopen(address, timeout=5) as answer:
                content: bytes = answer.read()
                return content
        except OSError:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.1)
