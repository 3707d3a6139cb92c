"""The process that reads input after input, with limits of memory and of time for each.

Run by `tests.fuzz.run`: python -m tests.fuzz.worker READER SECONDS SEED FOLDER. It prints its figures as JSON.
"""

from __future__ import annotations

import json
import resource
import signal
import sys
import time
import traceback
import warnings
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path
from random import Random

from fillwright.errors import FillwrightError
from tests.fuzz.mutate import LONGEST

MOST_SECONDS = 5.0
"""Processor seconds that one input may take: the aim of issue 12."""

MOST_MEGABYTES = 500
"""Memory that one input may add: the aim of issue 12."""

_ADDRESS_MEGABYTES = 3_000
"""Address space beyond that of the start: threads of libraries reserve much that they don't use."""

_LONGEST_SENTENCES = 20_000  # characters; fifty mistakes of a table have a line each

_MOST_FAILURES = 20  # different ones that a run keeps


class _LateError(BaseException):
    """An input takes too long. Not an Exception, so that no reader takes it for damage."""


@dataclass(kw_only=True)
class Figures:
    """Result of a run.

    Attributes:
        inputs: number of inputs.
        refused: number of those that were refused in a sentence.
        slowest_s: processor seconds of the slowest.
        peak_mb: memory beyond what the process had after the valid inputs.
        failures: text and file of every different failure.
    """

    inputs: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    peak_mb: float = 0.0
    failures: dict[str, str] = field(default_factory=dict)


def read_all(name: str, seconds: float, seed: int, folder: Path) -> Figures:
    """Read inputs until the time is up."""
    read, inputs, warm = _find_reader(name, seed)
    figures = Figures()
    warnings.simplefilter("ignore")
    signal.signal(signal.SIGPROF, _stop)
    for content in warm:  # libraries are loaded, tables read, and the valid inputs must be read
        _read_one(read, content, folder, figures)
    _limit_addresses()
    start_mb = _measure_megabytes()
    figures.slowest_s = 0.0
    end = time.monotonic() + seconds
    for content in inputs:
        if time.monotonic() > end:
            break
        before = _measure_megabytes()
        _read_one(read, content, folder, figures)
        after = _measure_megabytes()
        figures.peak_mb = max(figures.peak_mb, after - start_mb)
        if after > before and after - start_mb > MOST_MEGABYTES:
            _keep(figures, f"more than {MOST_MEGABYTES} MB", content, folder)
            break  # the highest use can't be measured again in this process
    return figures


def _find_reader(name: str, seed: int) -> tuple[object, Iterable[bytes], list[bytes]]:
    if name == "HTTP":
        from tests.fuzz.http_requests import Requests  # noqa: PLC0415 - the studio is large

        return Requests(), _repeat(str(seed * 1_000).encode()), [str(seed * 1_000).encode()] * 50
    from tests.fuzz.readers import READERS  # noqa: PLC0415 - so that its imports count for the readers alone

    reader = READERS[name]
    return reader.read, reader.make_inputs(name, Random(f"{name} {seed}")), list(reader.seeds())


def _repeat(content: bytes) -> Iterator[bytes]:
    while True:
        yield content


def _read_one(read: object, content: bytes, folder: Path, figures: Figures) -> None:
    (folder / "current").write_bytes(content)  # should the process die, this is what it read
    figures.inputs += 1
    start = time.process_time()
    try:
        signal.setitimer(signal.ITIMER_PROF, 2 * MOST_SECONDS)
        try:
            read(content, folder)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
    except FillwrightError as error:
        figures.refused += 1
        sentence = str(error)
        if not 0 < len(sentence.strip()) < _LONGEST_SENTENCES or "Traceback" in sentence:
            _keep(figures, f"refused with {len(sentence):,} characters, not a sentence", content, folder)
    except _LateError:
        pass  # its time says so
    except BaseException as error:
        _keep(figures, _describe(error), content, folder)
    used = time.process_time() - start
    if used > MOST_SECONDS and len(content) <= LONGEST:
        _keep(figures, f"more than {MOST_SECONDS:.0f} s", content, folder)
    figures.slowest_s = max(figures.slowest_s, used)


def _stop(_signal: int, _frame: object) -> None:
    raise _LateError


def _describe(error: BaseException) -> str:
    """Return the exception's class and the innermost line of ours, which tell one failure from another."""
    frames = [frame for frame in traceback.extract_tb(error.__traceback__) if "/fillwright/" in frame.filename]
    place = f"{frames[-1].filename.split('/fillwright/')[-1]}:{frames[-1].lineno}" if frames else "the tests"
    text = f" {str(error)[:300]}" if isinstance(error, AssertionError) else ""
    return f"{type(error).__name__} at {place}{text}"


def _keep(figures: Figures, failure: str, content: bytes, folder: Path) -> None:
    """Keep the smallest input of each different failure in a file."""
    if failure not in figures.failures and len(figures.failures) >= _MOST_FAILURES:
        return
    path = Path(figures.failures.setdefault(failure, str(folder / f"failure-{len(figures.failures)}")))
    if not path.exists() or len(content) < path.stat().st_size:
        path.write_bytes(content)


def _limit_addresses() -> None:
    pages = (
        int(Path("/proc/self/statm").read_text("ascii").split()[0]) if Path("/proc/self/statm").exists() else 0
    )
    most = pages * resource.getpagesize() + _ADDRESS_MEGABYTES * 2**20
    if pages:
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _measure_megabytes() -> float:
    """Return the peak memory of this program; `ru_maxrss` would count that of the parent too."""
    lines = Path("/proc/self/status").read_text("ascii", "replace").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024  # from kilobytes


if __name__ == "__main__":
    words = sys.argv[1:]
    print(json.dumps(asdict(read_all(words[0], float(words[1]), int(words[2]), Path(words[3])))))
