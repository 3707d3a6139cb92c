"""Run the readers, each in a process of its own, and print a table: python -m tests.fuzz.run [READER ...].

FUZZ_SECONDS is the time of each reader (20), FUZZ_SEED the start of the random numbers (1). Inputs that fail
are kept in out/fuzz; a crash that is fixed becomes a file in tests/fuzz/seeds.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path
from shutil import copyfile

from tests.fuzz.worker import Figures

ROOT = Path(__file__).parents[2]
KEPT = ROOT / "out" / "fuzz"
_GRACE_SECONDS = 120  # beyond its time until a process counts as stuck, on a busy machine; ours


def list_readers() -> list[str]:
    """List every reader by name."""
    from tests.fuzz.readers import READERS  # noqa: PLC0415 - so that a worker's child imports only its own

    return [*READERS, "HTTP"]


def run_reader(name: str, seconds: float, seed: int, kept: Path = KEPT) -> Figures:
    """Run one reader and return its figures; inputs that fail are copied to a folder."""
    with tempfile.TemporaryDirectory(prefix="fillwright-fuzz-") as place:
        folder = Path(place)
        words = [sys.executable, "-m", "tests.fuzz.worker", name, str(seconds), str(seed), place]
        code: int | str
        try:
            done = subprocess.run(
                words,
                cwd=ROOT,
                capture_output=True,
                text=True,
                errors="replace",
                timeout=seconds + _GRACE_SECONDS,
                check=False,
            )
            code, output, errors = done.returncode, done.stdout, done.stderr
        except subprocess.TimeoutExpired:
            code, output, errors = "no end", "", ""
        if code == 0:
            figures = Figures(**json.loads(output.splitlines()[-1]))
        else:
            last = (errors.strip().splitlines() or [""])[-1]
            figures = Figures(
                failures={f"the process ended with {code}: {last[:200]}": str(folder / "current")}
            )
        for number, (failure, path) in enumerate(figures.failures.items()):
            target = kept / f"{name.replace(' ', '-')}-{seed}-{number}"
            target.parent.mkdir(parents=True, exist_ok=True)
            if Path(path).exists():
                copyfile(path, target)
            figures.failures[failure] = str(target)
    return figures


def print_row(name: str, figures: Figures) -> None:
    """Print the figures of one reader, and its failures."""
    print(
        f"{name:<18}{figures.inputs:>9,}{figures.refused:>9,}{figures.slowest_s:>10.2f}{figures.peak_mb:>9.0f}"
        f"{len(figures.failures):>10}",
        flush=True,
    )
    for failure, path in figures.failures.items():
        print(f"    {failure} ({path})", flush=True)


def main(names: Iterable[str]) -> int:
    """Run readers and return the exit status: 1 if one failed."""
    seconds = float(os.environ.get("FUZZ_SECONDS", "20"))
    seed = int(os.environ.get("FUZZ_SEED", "1"))
    print(f"{'reader':<18}{'inputs':>9}{'refused':>9}{'slowest s':>10}{'peak MB':>9}{'failures':>10}")
    failed = False
    for name in list(names) or list_readers():
        figures = run_reader(name, seconds, seed)
        print_row(name, figures)
        failed |= bool(figures.failures)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
