"""Parts that some tests need and not every machine has."""

from __future__ import annotations

import os
from ctypes.util import find_library
from importlib.util import find_spec

import pytest


def need(there: object, what: str) -> None:
    """Skip the test that calls, naming what is missing; on a machine that must have everything, fail.

    Args:
        there: whether the part is there.
        what: it is, and where it comes from.
    """
    if there:
        return
    if os.environ.get("CI") == "true":
        pytest.fail(f"this machine lacks {what}")
    pytest.skip(f"needs {what}")


def need_fluidsynth() -> None:
    """Skip, or fail, where no SoundFont can be played."""
    need(
        find_spec("fluidsynth") and find_library("fluidsynth"),
        "FluidSynth, Debian's libfluidsynth3, and pyfluidsynth",
    )
