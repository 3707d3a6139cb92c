"""The wheel of the project: build it, install it into an empty environment, use it from another folder."""

from __future__ import annotations

import os
import socket
import subprocess
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[1]
SOURCES = ("src", "pyproject.toml", "README.md", "LICENSE", "NOTICE")

LESSON = """number = 1
title = "One fill"
bars = 1
tempo = [120]
audio = "wav"
[[figure]]
name = "single paradiddle"
steps = ["whole bar"]
"""

_PATIENCE_SECONDS = 60  # until a server answers, on a busy machine; ours


class InstallError(Exception):
    """A step of building or installing that failed; the text is what pip printed."""


def build_wheel(python: Path, folder: Path) -> Path:
    """Build the wheel from a copy of the sources, so that nothing is written into the tree."""
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard", *SOURCES]
    listed = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    for name in filter(None, listed.split("\0")):
        source = ROOT / name
        if source.is_file():
            (folder / "copy" / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / "copy" / name).write_bytes(source.read_bytes())
    run_pip(python, "wheel", "--no-deps", "--wheel-dir", str(folder), str(folder / "copy"))
    (built,) = folder.glob("*.whl")
    return built


def make_environment(python: Path, folder: Path, *packages: str) -> Path:
    """Make an environment, install packages into it with pip's words, and return the folder of its commands."""
    subprocess.run([python, "-m", "venv", "--clear", folder], check=True)
    run_pip(folder / "bin" / "python", "install", *packages)
    return folder / "bin"


def run_pip(python: Path, *words: str) -> None:
    """Run pip.

    Raises:
        InstallError: if it fails.
    """
    command = [python, "-m", "pip", "--quiet", "--disable-pip-version-check", *words]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    if done.returncode:
        raise InstallError(done.stdout + done.stderr)


def run_command(command: Path, *words: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run an installed command in a folder, with nothing of this tree on Python's path."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    return subprocess.run(
        [command, *words], cwd=folder, env=environment, check=False, capture_output=True, text=True
    )


@contextmanager
def serve_studio(command: Path, folder: Path) -> Iterator[str]:
    """Serve a new studio with an installed command; yield its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = ["serve", "--folder", str(folder / "studio"), "--port", str(port), "--no-browser", "--quiet"]
    with subprocess.Popen([command, *words], cwd=folder, stderr=subprocess.PIPE, text=True) as server:
        try:
            yield f"http://127.0.0.1:{port}/"
        finally:
            server.terminate()


def fetch(address: str) -> bytes:
    """Return a page of the studio, waiting until the server answers."""
    deadline = time.monotonic() + _PATIENCE_SECONDS
    while True:
        try:
            with urllib.request.urlopen(address, timeout=5) as answer:
                content: bytes = answer.read()
                return content
        except OSError:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.1)
