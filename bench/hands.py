"""Find hands: the share of invented professional fills that is playable, and the time for 64 bars."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from bench.ekit import Hit, as_midi
from bench.played import KINDS, record
from fillwright.craft.player.players import find_player
from fillwright.score.parts.drum_file import read_drum_part
from fillwright.score.parts.part_sticking import PartSticking, find_part_sticking

_FILLS_PER_KIND = 40  # ours
_TIMES_FASTER = 3  # for the first-year player; ours


def main() -> dict[str, float]:
    figures = _measure_shares()
    figures.update(_measure_long_part())
    return figures


def _measure_shares() -> dict[str, float]:
    """Return the shares that a professional can play, and a first-year player at three times the tempo."""
    print(f"hands: {_FILLS_PER_KIND} invented professional fills of each kind, as an electronic kit sends them")
    print(f"  {'':26} professional   first year, {_TIMES_FASTER} times as fast")
    able = beginners = 0
    for kind in KINDS:
        mine = [find_fill_hands(kind, seed, "professional", 1.0) for seed in range(_FILLS_PER_KIND)]
        theirs = [find_fill_hands(kind, seed, "first-year", _TIMES_FASTER) for seed in range(_FILLS_PER_KIND)]
        good = sum(found.sticking.playable for found in mine)
        easy = sum(found.sticking.playable for found in theirs)
        able, beginners = able + good, beginners + easy
        print(f"  {kind:26} {good / _FILLS_PER_KIND:12.0%} {easy / _FILLS_PER_KIND:12.0%}")
    total = _FILLS_PER_KIND * len(KINDS)
    print(f"  {'all':26} {able / total:12.1%} {beginners / total:12.1%}   (aims: 97 % or more, 3 % or less)")
    return {"professional": able / total, "first_year": beginners / total}


def find_fill_hands(kind: str, seed: int, player: str, times: float) -> PartSticking:
    """Return one fill of a kind with its hands."""
    content, tempo = record(kind, seed)
    with tempfile.NamedTemporaryFile(suffix=".mid") as file:
        file.write(content)
        file.flush()
        part = read_drum_part(Path(file.name))
    return find_part_sticking(part, find_player(player), tempo=tempo * times)


def _measure_long_part() -> dict[str, float]:
    """Measure reading and finding hands for 64 bars of sixteenths and sextuplets over the whole kit."""
    hits = []
    for bar in range(64):
        parts = 6 if bar % 4 == 3 else 4
        for n in range(parts * 4):
            key = (38, 48, 45, 43)[n // parts] if bar % 2 else (42, 38)[n % 8 == parts]
            at = (bar * 4 + n / parts) * 0.6 + ((bar * 37 + n * 17) % 19 - 9) / 1000
            hits.append(Hit(seconds=max(0.0, at), key=key, velocity=60 + n * 7 % 60))
            if n % 8 == 0:
                hits.append(Hit(seconds=max(0.0, at + 0.004), key=36, velocity=100))
    with tempfile.NamedTemporaryFile(suffix=".mid") as file:
        file.write(as_midi(hits, 100))
        file.flush()
        start = time.perf_counter()
        part = read_drum_part(Path(file.name))
        read = time.perf_counter() - start
    found = find_part_sticking(part, find_player("professional"))
    total = time.perf_counter() - start
    lasts = part.strokes[-1].struck.at_seconds
    print(f"  64 bars, {len(found.strokes):,} strokes: read in {read:.2f} s, in all {total:.2f} s (aim: 1 s)")
    print(f"  that is {lasts / total:,.0f} times faster than the music lasts")
    return {"long_part_seconds": total, "long_part_speed": lasts / total}


if __name__ == "__main__":
    main()
