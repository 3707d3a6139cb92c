"""Routes of a sixteen-stroke bar on seven surfaces, and the same optimum from a general solver."""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from statistics import median

from bench.cpsat import find_optimum
from fillwright.craft.chains.chain import fill_span
from fillwright.craft.player.kits import find_kit
from fillwright.craft.player.players import find_player
from fillwright.craft.routes.route import Setting
from fillwright.craft.routes.search import list_answers, list_problems, search_routes
from fillwright.craft.routes.taste import Taste
from fillwright.music.meter import find_meter
from fillwright.music.phrase import locate_last_beats
from fillwright.music.rudiments import find_figure
from fillwright.music.stroke import Limb

_FIGURES = ("single paradiddle", "single stroke roll", "double stroke open roll", "flam tap")
_TEMPO, _TOP, _RUNS = 90, 12, 5  # bpm, routes, repetitions of each measurement; ours


def main() -> dict[str, float]:
    where = find_meter("4/4")
    span = locate_last_beats(where, 4, Fraction(4))
    setting = Setting(
        span=span, meter=where, kit=find_kit("five-piece"), player=find_player("gigging"), tempo=_TEMPO
    )
    taste = Taste(surfaces=7)
    ours: list[float] = []
    ratios: list[float] = []
    both = [0.0, 0.0]
    for name in _FIGURES:
        figure = find_figure(name)
        chain = fill_span(figure, figure.rhythms[0], span, where, lead=Limb.RIGHT)
        ours.append(_measure_seconds(lambda chain=chain: search_routes(chain, setting, taste, _TOP)))
        best = next(list_answers(chain, setting, taste)).cost
        alone = _measure_seconds(lambda chain=chain: next(list_answers(chain, setting, taste)))
        start = time.perf_counter()
        second = find_optimum(list(list_problems(chain, setting, taste)))
        theirs = time.perf_counter() - start
        ratios.append(theirs / alone)
        both = [both[0] + theirs, both[1] + alone]
        if second != best:
            raise RuntimeError(f"{name}: the search finds {best}, the general solver {second}")
        print(
            f"routes, {name}: top {_TOP} in {ours[-1] * 1000:.0f} ms, the best alone in {alone * 1000:.0f} ms; "
            f"CP-SAT takes {ratios[-1]:.0f} times as long for that, at the same cost"
        )
    overall = both[0] / both[1]
    print(
        f"  slowest top {_TOP} {max(ours) * 1000:.0f} ms (aim: 50); CP-SAT takes {overall:.0f} times as long "
        f"over all of them, {min(ratios):.0f} times at least (aim: 20)"
    )
    return {"seconds": max(ours), "ratio": overall, "least_ratio": min(ratios)}


def _measure_seconds(work: Callable[[], object]) -> float:
    """Return the median time of some runs, in seconds."""
    runs = []
    for _ in range(_RUNS):
        start = time.perf_counter()
        work()
        runs.append(time.perf_counter() - start)
    return median(runs)


if __name__ == "__main__":
    main()
