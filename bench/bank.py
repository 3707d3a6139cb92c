"""The modelled kit: time to calculate its sounds, and to read them from the cache.

The sounds are those of the demo lesson, at every velocity, with all their variations.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.music.timing import time_phrase
from fillwright.sound.model.bank import ModelledBank, hash_kit
from fillwright.sound.model.cache import SoundCache
from fillwright.sound.model.instrument import ACCENT_VELOCITY
from fillwright.sound.model.recipe import load_kit_recipes
from fillwright.sound.playalong.strikes import list_strikes

_TEMPO = 80  # bpm; ours
_CLICKS = ("click", "accented click")


def main() -> dict[str, float]:
    """Print and return the seconds without and with a cache, and their ratio."""
    sounds = list_needed_sounds()
    with tempfile.TemporaryDirectory() as folder:
        bank, cold = _fill_bank(sounds, Path(folder))
        _, cached = min((_fill_bank(sounds, Path(folder)) for _ in range(5)), key=lambda filled: filled[1])
        size = sum(path.stat().st_size for path in Path(folder).iterdir())
    print(f"bank: {len(bank)} sounds, all sounds of the demo lesson, {size / 1e6:.0f} MB")
    print(f"  calculated in {cold:.2f} s (aim: 3), read from the cache in {cached * 1000:.0f} ms (aim: 50)")
    print(f"  reading is {cold / cached:,.0f} times faster")
    return {"sounds": float(len(bank)), "cold_seconds": cold, "cached_seconds": cached, "ratio": cold / cached}


def list_needed_sounds() -> frozenset[tuple[str, int]]:
    """Return name and velocity of every sound in the demo lesson, clicks included."""
    fills = build_fills(parse_lesson(read_demo_text())).fills
    struck = {
        (one.name, one.velocity) for fill in fills for one in list_strikes(time_phrase(fill.phrase, _TEMPO))
    }
    return frozenset(struck | {(click, ACCENT_VELOCITY) for click in _CLICKS})


def _fill_bank(sounds: frozenset[tuple[str, int]], folder: Path) -> tuple[ModelledBank, float]:
    """Return a bank with these sounds in memory, and the seconds that they took."""
    start = time.perf_counter()
    bank = ModelledBank(load_kit_recipes(), SoundCache(folder, hash_kit(load_kit_recipes())))
    for name, velocity in sorted(sounds):
        bank.get_shot(name, velocity, 0)
    return bank, time.perf_counter() - start


if __name__ == "__main__":
    main()
