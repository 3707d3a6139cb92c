"""Sound banks: finished one-shots in memory.

Names are those of surfaces (`music.surfaces`), of clicks, and of articulations: "snare buzz" asks for the
bounces of a buzz. A bank that has no such sound plays the surface's own, which `resolve_surface` names. Which of a
surface's sounds suits a velocity is for the bank to choose: the modelled kit has a ghost note of its own.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from typing import Protocol

import numpy as np
import scipy

from fillwright.sound.model.cache import SoundCache, default_folder
from fillwright.sound.model.instrument import make_one_shot
from fillwright.sound.model.recipe import KitRecipes, load_kit_recipes
from fillwright.sound.signal import Samples

VELOCITY_STEP = 8
"""Velocities this far apart have sounds of their own: about a decibel, less than a drummer repeats."""

_ROUND = 1009  # strokes after which the order of variations starts again: longer than anybody listens for


class SoundBank(Protocol):
    """Where a mix gets its sounds."""

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        """The sound of one stroke: its attack at sample 0, its end zero, shape (samples, 2), read-only.

        Args:
            name: of a surface, a click or an articulation; for one that the bank lacks, `surface_of(name)`.
            velocity: 1 to 127.
            index: the stroke's number among those on this surface; neighbours sound different.
        """


class ModelledBank:
    """The modelled kit: all variations of a sound are worked out when its loudness is first asked for.

    Args:
        recipes: the kit.
        shelf: where finished sounds are kept from one run to the next; by default nowhere.
    """

    def __init__(self, recipes: KitRecipes, shelf: SoundCache | None = None) -> None:
        self._kit = recipes
        self._shelf = shelf
        self._sheets: dict[tuple[str, int], tuple[Samples, ...]] = {}

    def get_shot(self, name: str, velocity: int, index: int) -> Samples:
        """The sound of one stroke, as `SoundBank.shot` has it.

        Raises:
            UnknownNameError: for a sound that the kit has not got.
        """
        sound = self._kit.pick_articulation(name, velocity)
        key = (sound, max(1, round(velocity / VELOCITY_STEP)) * VELOCITY_STEP)
        sheet = self._sheets.get(key)
        if sheet is None:
            sheet = self._sheets[key] = self._sheet(*key)
        return sheet[pick_variation(index, len(sheet))]

    def __len__(self) -> int:
        return sum(map(len, self._sheets.values()))

    def _sheet(self, name: str, velocity: int) -> tuple[Samples, ...]:
        variations = self._kit.find_recipe(name).variations
        label = f"{name} {velocity:03d}"
        kept = self._shelf.get(label) if self._shelf else None
        if kept and len(kept) == variations:
            return kept
        made = tuple(make_one_shot(self._kit, name, velocity, number) for number in range(variations))
        if self._shelf:
            self._shelf.put(label, made)
        return made


def resolve_surface(name: str) -> str:
    """The surface that an articulation is played on; any other name as it is.

    >>> surface_of("snare buzz"), surface_of("crash")
    ('snare', 'crash')
    """
    articulation = load_kit_recipes().articulations.get(name)
    return articulation.of if articulation else name


def pick_variation(index: int, variations: int) -> int:
    """Which variation a stroke gets.

    Each once, then in an order that never settles: none comes back before half of the others have been heard;
    strokes next to each other differ, and so do those next but one, where two velocities alternate.
    """
    return _order(variations)[index % _ROUND]


@cache
def _order(variations: int) -> tuple[int, ...]:
    chance = np.random.default_rng(variations)
    order = [int(number) for number in chance.permutation(variations)]
    while len(order) < _ROUND:
        recent = order[-((variations - 1) // 2) :] if variations > 2 else order[-(variations - 1) :]
        rest = [number for number in range(variations) if number not in recent]
        order.append(int(chance.choice(rest or [0])))
    return tuple(order)


def hash_kit(recipes: KitRecipes) -> str:
    """A hash of all that a modelled kit's sounds depend on: its recipes, this package's code, two libraries."""
    made = hashlib.sha256(f"{recipes} {np.__version__} {scipy.__version__}".encode())
    for source in sorted(files(__package__).iterdir(), key=lambda path: path.name):
        if source.name.endswith(".py"):
            made.update(source.read_bytes())
    return made.hexdigest()


@cache
def default_bank(*, mirrored: bool = False) -> ModelledBank:
    """The bank that everything shares within one process, kept on disk for the next one.

    Args:
        mirrored: whether the kit stands as a left-handed player has it.
    """
    recipes = load_kit_recipes(mirrored=mirrored)
    return ModelledBank(recipes, SoundCache(default_folder(), hash_kit(recipes)))
