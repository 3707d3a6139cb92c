"""Start time of the command: CPU seconds of `fillwright --help`, in a process of its own."""

from __future__ import annotations

import resource
import subprocess
import sys

_RUNS = 9


def main() -> dict[str, float]:
    command = [sys.executable, "-m", "fillwright.cli", "--help"]
    bare = _cpu([sys.executable, "-c", "pass"])
    helped = _cpu(command)
    print(
        f"fillwright --help: {helped:.3f} s of CPU (aim: under 0.2), {helped / bare:.1f} times an empty Python"
    )
    return {"help_cpu_seconds": helped}


def _cpu(command: list[str]) -> float:
    """The median CPU time of a command over some runs."""
    times = []
    for _ in range(_RUNS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return sorted(times)[_RUNS // 2]


if __name__ == "__main__":
    main()
