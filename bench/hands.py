"""Hands for any fill: which shares of made-up professional fills are playable, and how long 64 bars take."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from bench.ekit import Hit, as_midi
from bench.played import KINDS, recorded
from fillwright.craft.player.players import find_player
from fillwright.score.parts.drum_file import read_drum_part
from fillwright.score.parts.part_sticking import PartSticking, find_part_sticking

_EACH = 40
_TIMES_FASTER = 3


def main() -> dict[str, float]:
    figures = _shares()
    figures.update(_long_part())
    return figures


def _shares() -> dict[str, float]:
    """How many a professional can play as played, and a first-year player three times as fast."""
    print(f"hands: {_EACH} made-up professional fills of each kind, as an electronic kit sends them")
    print(f"  {'':26} professional   first year, {_TIMES_FASTER} times as fast")
    able = beginners = 0
    for kind in KINDS:
        mine = [judged(kind, seed, "professional", 1.0) for seed in range(_EACH)]
        theirs = [judged(kind, seed, "first-year", _TIMES_FASTER) for seed in range(_EACH)]
        good = sum(found.sticking.playable for found in mine)
        easy = sum(found.sticking.playable for found in theirs)
        able, beginners = able + good, beginners + easy
        print(f"  {kind:26} {good / _EACH:12.0%} {easy / _EACH:12.0%}")
    total = _EACH * len(KINDS)
    print(f"  {'all':26} {able / total:12.1%} {beginners / total:12.1%}   (aims: 97 % or more, 3 % or less)")
    return {"professional": able / total, "first_year": beginners / total}


def judged(kind: str, seed: int, player: str, times: float) -> PartSticking:
    """One fill of a kind with its hands."""
    content, tempo = recorded(kind, seed)
    with tempfile.NamedTemporaryFile(suffix=".mid") as file:
        file.write(content)
        file.flush()
        part = read_drum_part(Path(file.name))
    return find_part_sticking(part, find_player(player), tempo=tempo * times)


def _long_part() -> dict[str, float]:
    """Sixty-four bars of sixteenths and sextuplets over the whole kit: reading, then finding the hands."""
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
    whole = time.perf_counter() - start
    lasts = part.strokes[-1].struck.at_seconds
    print(f"  64 bars, {len(found.strokes):,} strokes: read in {read:.2f} s, in all {whole:.2f} s (aim: 1 s)")
    print(f"  that is {lasts / whole:,.0f} times faster than the music lasts")
    return {"long_part_seconds": whole, "long_part_speed": lasts / whole}


if __name__ == "__main__":
    main()
