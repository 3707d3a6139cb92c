"""Sound banks: finished one-shots in memory.

Names are those of surfaces (`music.surfaces`), clicks and articulations: "snare buzz" is a bounce of a buzz. A
bank without that sound plays the surface's own, which `resolve_surface` names. The bank chooses which of a
surface's sounds fits a velocity: the modelled kit has a separate ghost note.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from typing import Protocol

import numpy as np
import scipy

from fillwright.sound.model.cache import SoundCache, find_cache_folder
from fillwright.sound.model.instrument import make_one_shot
from fillwright.sound.model.recipe import KitRecipes, load_kit_recipes
from fillwright.sound.signal import Samples

VELOCITY_STEP = 8
"""Step between velocities that sound different: 1 to 2 dB for taps and accents, finer than a drummer repeats;
ours, not measured."""

_CYCLE = 1009  # strokes after which the order of variations repeats: longer than a listener notices; ours


class SoundBank(Protocol):
    """A source of sounds for a mix."""

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        """Return the sound of one stroke: its attack at sample 0, its end zero, shape (samples, 2), read-only.

        Args:
            name: a surface, a click or an articulation; a bank without it plays `resolve_surface(name)`.
            velocity: 1 to 127.
            index: number of the stroke among those on this surface; neighbours sound different.
        """


class ModelledBank:
    """The modelled kit: all variations of a sound are calculated at the first request for its velocity.

    Args:
        recipes: recipes of the kit.
        cache: store of finished sounds from one run to the next; by default none.
    """

    def __init__(self, recipes: KitRecipes, cache: SoundCache | None = None) -> None:
        self._kit = recipes
        self._cache = cache
        self._entries: dict[tuple[str, int], tuple[Samples, ...]] = {}

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        """Return the sound of one stroke, as `SoundBank.get_shot` describes it.

        Raises:
            UnknownNameError: for a sound that the kit doesn't have.
        """
        sound = self._kit.pick_articulation(name, velocity)
        key = (sound, max(1, round(velocity / VELOCITY_STEP)) * VELOCITY_STEP)
        shots = self._entries.get(key)
        if shots is None:
            shots = self._entries[key] = self._load(*key)
        return shots[pick_variation(index, len(shots))]

    def __len__(self) -> int:
        return sum(map(len, self._entries.values()))

    def _load(self, name: str, velocity: int) -> tuple[Samples, ...]:
        """Return every variation of a sound at a velocity, from the cache or calculated and put there."""
        variations = self._kit.find_recipe(name).variations
        label = f"{name} {velocity:03d}"
        cached = self._cache.get(label) if self._cache else None
        if cached and len(cached) == variations:
            return cached
        shots = tuple(make_one_shot(self._kit, name, velocity, number) for number in range(variations))
        if self._cache:
            self._cache.put(label, shots)
        return shots


def resolve_surface(name: str) -> str:
    """Return the surface that an articulation is played on; any other name stays the same.

    >>> resolve_surface("snare buzz"), resolve_surface("crash")
    ('snare', 'crash')
    """
    articulation = load_kit_recipes().articulations.get(name)
    return articulation.of if articulation else name


def pick_variation(index: int, variations: int) -> int:
    """Return the number of the variation that a stroke gets.

    The first strokes get each variation once. After that the order is random: no variation returns before half
    of the others have sounded. Neighbouring strokes differ, and so do strokes next but one, where two
    velocities alternate.
    """
    return _order_variations(variations)[index % _CYCLE]


@cache
def _order_variations(variations: int) -> tuple[int, ...]:
    rng = np.random.default_rng(variations)
    order = [int(number) for number in rng.permutation(variations)]
    while len(order) < _CYCLE:
        recent = order[-((variations - 1) // 2) :] if variations > 2 else order[-(variations - 1) :]
        rest = [number for number in range(variations) if number not in recent]
        order.append(int(rng.choice(rest or [0])))
    return tuple(order)


def hash_kit(recipes: KitRecipes) -> str:
    """Return a hash of everything that a modelled kit's sounds depend on: recipes, code and two libraries."""
    digest = hashlib.sha256(f"{recipes} {np.__version__} {scipy.__version__}".encode())
    modules = [path for path in files(__package__).iterdir() if path.name.endswith(".py")]
    for module in (*sorted(modules, key=lambda path: path.name), files("fillwright.sound") / "signal.py"):
        digest.update(module.read_bytes())
    return digest.hexdigest()


@cache
def default_bank(*, mirrored: bool = False) -> ModelledBank:
    """Return the bank that all mixes of a process share, cached on disk for the next process.

    Args:
        mirrored: True for a kit set up for a left-handed player.
    """
    recipes = load_kit_recipes(mirrored=mirrored)
    return ModelledBank(recipes, SoundCache(find_cache_folder(), hash_kit(recipes)))
