"""The pure packages pull in nothing but the standard library and each other, in a fresh interpreter."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

PURE = ("fillwright.errors", "fillwright.music", "fillwright.craft")

PROGRAM = """
import importlib, json, pkgutil, sys
before = set(sys.modules)
walked = []
for name in sys.argv[1:]:
    package = importlib.import_module(name)
    walked.append(name)
    for found in pkgutil.walk_packages(getattr(package, "__path__", ()), name + "."):
        importlib.import_module(found.name)
        walked.append(found.name)
print(json.dumps([walked, sorted(set(sys.modules) - before)]))
"""


def loaded_by(*names: str) -> tuple[list[str], list[str]]:
    """What a fresh interpreter walks through and what it loads for these packages."""
    command = [sys.executable, "-I", "-c", PROGRAM, *names]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    walked, loaded = json.loads(done.stdout)
    return walked, loaded


def foreign(loaded: list[str]) -> list[str]:
    """The loaded modules that are neither of the standard library nor of the pure packages."""
    allowed = (*PURE, "fillwright")
    return [
        name
        for name in loaded
        if name.partition(".")[0] not in sys.stdlib_module_names
        and name not in allowed
        and not name.startswith(tuple(f"{package}." for package in PURE))
    ]


@pytest.mark.parametrize("package", ["fillwright.music", "fillwright.craft"])
def test_a_pure_package_loads_only_the_standard_library(package: str) -> None:
    walked, loaded = loaded_by(package)
    assert foreign(loaded) == []
    assert set(walked) <= set(loaded)


def test_every_module_of_music_is_walked_through() -> None:
    walked, _ = loaded_by("fillwright.music")
    names = (
        "counting figure grooves hit ladder meter notevalue phrase rudiments sticking stroke surfaces timing"
    )
    assert {f"fillwright.music.{name}" for name in names.split()} <= set(walked)


def test_music_does_not_lean_on_craft() -> None:
    _, loaded = loaded_by("fillwright.music")
    assert not [name for name in loaded if name.startswith("fillwright.craft")]


def test_a_module_from_outside_would_be_noticed() -> None:
    _, loaded = loaded_by("fillwright.music", "msgspec")
    assert "msgspec" in foreign(loaded)
