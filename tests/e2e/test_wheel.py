"""Build the wheel, install it into an empty environment, and use it from another folder."""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

import pytest

from tests.wheel import LESSON, ROOT, build_wheel, fetch, make_environment, run_command, serve_studio

PACKAGE_FILES = (".py", ".toml", ".typ", ".html", ".css", ".mjs", ".svg", ".npz")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from a copy of the sources."""
    return build_wheel(Path(sys.executable), tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the commands of a new environment with the wheel."""
    folder = tmp_path_factory.mktemp("environment")
    constraints = ("--constraint", str(ROOT / "constraints.txt"))
    return make_environment(Path(sys.executable), folder, *constraints, str(wheel))


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
    done = run_command(installed / "fillwright", "lesson", "one.toml", "-o", "pack", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "pack" / "handout.pdf").read_bytes().startswith(b"%PDF")
    assert list((tmp_path / "pack" / "fills").glob("*/*.wav"))


def test_the_studio_serves_its_pages_and_its_icon(installed: Path, tmp_path: Path) -> None:
    with serve_studio(installed / "fillwright", tmp_path) as address:
        assert b"<html" in fetch(address)
        assert b"<svg" in fetch(f"{address}static/mark.svg")
