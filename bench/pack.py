"""The demo pack: seconds to build, and the share of the work done inside verovio, typst and libsndfile."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import soundfile
import typst
import verovio

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.pack.build import build_pack

_WATCHED = (
    (verovio.toolkit, "loadData", "verovio"),
    (verovio.toolkit, "renderToSVG", "verovio"),
    (typst, "compile", "typst"),
    (soundfile.SoundFile, "__init__", "libsndfile"),
    (soundfile.SoundFile, "write", "libsndfile"),
    (soundfile.SoundFile, "close", "libsndfile"),
)


def main() -> dict[str, float]:
    spent = {"verovio": 0.0, "typst": 0.0, "libsndfile": 0.0}
    originals = [(owner, name, getattr(owner, name)) for owner, name, _ in _WATCHED]
    for owner, name, library in _WATCHED:
        setattr(owner, name, _watched(getattr(owner, name), library, spent))
    try:
        wall, cpu, kept, fills, files = _builds()
    finally:
        for owner, name, original in originals:
            setattr(owner, name, original)
    share = sum(spent.values()) / cpu
    print(f"demo pack: {fills} fills, {files} files in {wall:.1f} s ({cpu:.1f} s of CPU)")
    for library, seconds in spent.items():
        print(f"  inside {library:<11} {seconds / cpu:6.1%} of the CPU time")
    print(f"  inside all three   {share:6.1%} (aim: 70 % or more)")
    print(f"  a rerun with nothing changed takes {kept / wall:.1%} of that")
    return {"seconds": wall, "share": share, "rerun": kept / wall}


def _builds() -> tuple[float, float, float, int, int]:
    text = read_demo_text()
    lesson = parse_lesson(text)
    with tempfile.TemporaryDirectory() as folder:
        wall, cpu = time.perf_counter(), time.process_time()
        built = build_pack(lesson, text, Path(folder) / "pack")
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
        again = time.perf_counter()
        build_pack(lesson, text, Path(folder) / "pack")
        again = time.perf_counter() - again
    return wall, cpu, again, len(built.fills), len(built.written)


def _watched(function: Callable[..., Any], library: str, spent: dict[str, float]) -> Callable[..., Any]:
    """The function, its CPU time in its own thread added up under the library's name."""

    def timed(*arguments: Any, **named: Any) -> Any:
        start = time.thread_time()
        try:
            return function(*arguments, **named)
        finally:
            spent[library] += time.thread_time() - start

    return timed


if __name__ == "__main__":
    main()
