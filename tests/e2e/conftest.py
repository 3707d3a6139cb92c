"""The demo lesson, built once for all workers, and an ear that knows nothing of how sounds are mixed."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from scipy.ndimage import maximum_filter1d

from fillwright.cli.main import main
from fillwright.lesson.file import Lesson, parse_lesson, read_demo_text
from fillwright.lesson.fills import LessonFill, build_fills
from fillwright.pack.practice.page import build_practice_page
from fillwright.sound.playalong.options import Click

PATIENCE_SECONDS = 900


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack:
    """A built pack and the lesson it was built from."""

    folder: Path
    lesson: Lesson
    fills: tuple[LessonFill, ...]

    def file(self, fill: LessonFill, ending: str) -> Path:
        """A file of a fill: "mid", or "060.mp3"."""
        sign = "-" if ending[0].isdigit() else "."
        return self.folder / "fills" / fill.slug / f"{fill.slug}{sign}{ending}"


def once(home: Path, build: Callable[[Path], None]) -> Path:
    """Build a folder in the place that all workers share; whoever comes first builds, the others wait."""
    folder, lock = home / "pack", home / "lock"
    home.mkdir(exist_ok=True)
    done = home / "done"
    try:
        lock.touch(exist_ok=False)
    except FileExistsError:
        deadline = time.monotonic() + PATIENCE_SECONDS
        while not done.exists():
            if time.monotonic() > deadline or (home / "failed").exists():
                pytest.fail(f"another worker did not build {folder}")
            time.sleep(0.2)
        return folder
    try:
        build(folder)
        done.touch()
    finally:
        if not done.exists():
            (home / "failed").touch()
    return folder


def shared(factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Path:
    """The folder that all workers of a run share."""
    base = factory.getbasetemp()
    return base.parent if hasattr(request.config, "workerinput") else base


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Pack:
    """The demo as `fillwright demo` builds it."""

    def build(folder: Path) -> None:
        assert main(["demo", "-o", str(folder), "--quiet"]) == 0

    folder = once(shared(tmp_path_factory, request) / "demo", build)
    lesson = parse_lesson(read_demo_text())
    return Pack(folder=folder, lesson=lesson, fills=build_fills(lesson).fills)


@pytest.fixture(scope="session")
def bare(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Pack:
    """The demo without click, lossless, at its slowest and fastest tempo."""
    text = read_demo_text().replace('"60..90 step 10"', '[60, 90]\naudio = "flac"\nclick = false')
    lesson = parse_lesson(text)
    assert (lesson.tempo, lesson.audio, lesson.click) == ((60, 90), "flac", Click.OFF)

    def build(folder: Path) -> None:
        source = folder.with_suffix(".toml")
        source.write_text(text, "utf-8")
        assert main(["lesson", str(source), "-o", str(folder), "--quiet"]) == 0

    folder = once(shared(tmp_path_factory, request) / "bare", build)
    return Pack(folder=folder, lesson=lesson, fills=build_fills(lesson).fills)


Signal = npt.NDArray[np.float32]
_AHEAD_SECONDS, _BACK_SECONDS, _APART_SECONDS = 0.0012, 0.006, 0.006
_QUIET = 0.002


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """Attacks of a recording: where each lies, and how many times more treble follows it than came before."""

    seconds: npt.NDArray[np.float64]
    growth: npt.NDArray[np.float64]

    def nearest(self, at: float) -> tuple[float, float]:
        """The attack nearest to a moment: how far from it, in seconds, and its growth."""
        index = int(np.argmin(np.abs(self.seconds - at)))
        return float(self.seconds[index] - at), float(self.growth[index])


def listen(samples: Signal, rate: int) -> Heard:
    """Every moment where the treble of the coming 1.2 ms is more than that of the 6 ms before.

    The second difference of the samples stands for the treble: it rises by 12 dB an octave. Where a sound
    starts, the ratio has its top at the very first sample. Method: common practice in finding onsets.
    """
    mono = samples.astype(np.float64).sum(axis=1)
    treble = np.abs(np.diff(mono, n=2, prepend=[0.0, 0.0]))
    ahead, back, apart = (round(each * rate) for each in (_AHEAD_SECONDS, _BACK_SECONDS, _APART_SECONDS))
    total = np.concatenate([np.zeros(back + 1), np.cumsum(treble), np.full(ahead, treble.sum())])
    count = len(treble)
    here = total[back : back + count]
    coming = (total[back + ahead : back + ahead + count] - here) / ahead
    gone = (here - total[:count]) / back
    growth = coming / (gone + _QUIET * coming.max())
    top = growth == maximum_filter1d(growth, 2 * apart + 1)
    found = np.flatnonzero(top & (growth > 1.4) & (coming > _QUIET * coming.max()))
    return Heard(seconds=found / rate, growth=growth[found])


@pytest.fixture(scope="session")
def ear() -> Callable[[Signal, int], Heard]:
    """`listen`, for tests."""
    return listen


PRACTISED = """number = 4
title = "All sorts"
series = "Kitchen Table Fills"
teacher = "Teodora Quillfeather"
purpose = "Buzzes, flams, drags and open hi-hats, to hear the page out."
tempo = [60, 90, 180]
level = "professional"
bars = 2
notes = ["Slowly."]

[[figure]]
name = "multiple bounce roll"
groove = "off-beat open hi-hat"
steps = ["whole bar"]

[[figure]]
name = "flam accent"
groove = "shuffle"
steps = ["last two beats", "round the kit"]

[[figure]]
name = "single ratamacue"
steps = ["last beat"]

[[figure]]
name = "single paradiddle"
groove = "march"
steps = ["whole bar"]
"""
"""A small lesson with every kind of stroke."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """A practice page by itself and the lesson it is for."""

    path: Path
    lesson: Lesson
    fills: tuple[LessonFill, ...]


class Ticks:
    """A bank whose every sound is one sharp tick, so that an ear can't mistake where it starts."""

    def get_shot(self, name: str, velocity: int, index: int) -> Signal:
        """A tick of 3 kHz, at its height from the first sample, gone after 30 ms."""
        del name, index
        seconds = np.arange(1323) / 44100
        tick = (velocity / 127) * np.exp(-seconds / 0.004) * np.cos(2 * np.pi * 3000 * seconds)
        return np.stack([tick, tick], axis=1).astype(np.float32) / 2


@pytest.fixture(scope="session")
def practice(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Practice:
    """The practice page of a small lesson."""
    return _practised(shared(tmp_path_factory, request) / "practice", None)


@pytest.fixture(scope="session")
def ticking(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> Practice:
    """The same page played on ticks."""
    return _practised(shared(tmp_path_factory, request) / "ticking", Ticks())


def _practised(home: Path, bank: Ticks | None) -> Practice:
    lesson = parse_lesson(PRACTISED)
    fills = build_fills(lesson).fills

    def build(folder: Path) -> None:
        folder.mkdir()
        (folder / "practice.html").write_text(build_practice_page(lesson, fills, bank=bank), "utf-8")

    return Practice(path=once(home, build) / "practice.html", lesson=lesson, fills=fills)
