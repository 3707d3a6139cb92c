"""Count the chains of all 40 rudiments in all readings over some bars, and compare counting with listing."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from resource import RUSAGE_CHILDREN, getrusage

from fillwright.craft.chains.graph import Graph, Hands
from fillwright.craft.chains.readings import list_readings
from fillwright.craft.chains.rules import HAND_TO_HAND, Rules
from fillwright.craft.chains.space import ChainSpace
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Span, locate_last_beats
from fillwright.music.rudiments import load_rudiments

_RULES = {
    "hand to hand": HAND_TO_HAND,
    "with a flam tap": Rules(must=("flam tap",)),
    "at most 2 figures": Rules(most=2),
    "at most 3 figures": Rules(most=3),
}
_BARS = (1, 2, 6)  # lengths of spans, in bars; ours
_RUNS = 5  # repetitions of each measurement; ours


def main() -> dict[str, float]:
    figures: dict[str, float] = {}
    for bars in _BARS:
        span = locate_last_beats(find_meter("4/4"), 8, Fraction(4 * bars))
        for name, rules in _RULES.items():
            figures[f"{bars} bars {name}, cpu_seconds"] = _measure_space(bars, span, name, rules)
    figures["listing_over_counting"] = _compare_listing()
    empty = _measure_process(["-c", "pass"])
    for bars in _BARS[:2]:
        seconds = _measure_process(["-m", "fillwright.cli", "chains", "--bars", str(bars), "--json"])
        figures[f"command {bars} bars, cpu_seconds"] = seconds
        print(
            f"fillwright chains --bars {bars}: {seconds:.2f} s of CPU (aim: under 1), "
            f"{seconds / empty:.1f} times an empty Python"
        )
    return figures


def _measure_space(bars: int, span: Span, name: str, rules: Rules) -> float:
    """Measure counting, finding the best and drawing, each with a new space; return the seconds of counting."""
    four = find_meter("4/4")

    def count() -> ChainSpace:
        return ChainSpace(span, four, list_readings(load_rudiments(), four), rules)

    counting = _measure_cpu(count)
    space = count()
    best, drawing = _measure_cpu(lambda: count().best(12)), _measure_cpu(lambda: count().draw(12, seed=1))
    print(
        f"chains over {bars} {'bar' if bars == 1 else 'bars'}, {name}: {space.count:.3e} counted in "
        f"{counting:.3f} s of CPU; with the best 12 {best / counting:.1f}, "
        f"with 12 drawn {drawing / counting:.1f} times as long"
    )
    return counting


def _compare_listing() -> float:
    """Return the time to list the chains of two beats one by one over the time to count them."""
    four = find_meter("4/4")
    two = locate_last_beats(four, 8, Fraction(2))
    material = list_readings(load_rudiments(), four)
    listing = _measure_cpu(lambda: _list_all(Graph(two, four, material, HAND_TO_HAND), 0, None), runs=1)
    counting = _measure_cpu(lambda: ChainSpace(two, four, material, HAND_TO_HAND))
    count = ChainSpace(two, four, material, HAND_TO_HAND).count
    print(f"chains over 2 beats: {count:,} listed in {listing / counting:.0f} times the time of counting them")
    return listing / counting


def _list_all(graph: Graph, at: int, hands: Hands | None) -> int:
    ends = len(graph.endings(at, hands))
    return ends + sum(_list_all(graph, edge.to, edge.hands) for edge in graph.edges(at, hands))


def _measure_cpu(work: Callable[[], object], *, runs: int = _RUNS) -> float:
    """Return the median CPU time over some runs, in seconds."""
    times = []
    for _ in range(runs):
        before = time.process_time()
        work()
        times.append(time.process_time() - before)
    return sorted(times)[runs // 2]


def _measure_process(words: list[str]) -> float:
    """Return the median CPU time of a Python process over some runs, in seconds."""
    times = []
    for _ in range(_RUNS):
        before = getrusage(RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)
        after = getrusage(RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return sorted(times)[_RUNS // 2]


if __name__ == "__main__":
    main()
