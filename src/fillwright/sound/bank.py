"""Sound banks: finished one-shots in memory."""

from __future__ import annotations

from functools import cache
from typing import Protocol

from fillwright.sound.instrument import Samples, one_shot
from fillwright.sound.recipe import Kit, kit

LAYER = 8
"""Velocities this far apart have sounds of their own: about a decibel, less than a drummer repeats."""


class SoundBank(Protocol):
    """Where a mix gets its sounds."""

    def shot(self, name: str, velocity: int, index: int) -> Samples:
        """The sound of one stroke: its attack at sample 0, its end zero, shape (samples, 2), read-only.

        Args:
            name: of a surface or click.
            velocity: 1 to 127.
            index: the stroke's number among those on this surface; neighbours sound different.
        """


class ModelledBank:
    """The modelled kit; each one-shot is worked out when it is first asked for, then kept."""

    def __init__(self, recipes: Kit) -> None:
        self._kit = recipes
        self._shots: dict[tuple[str, int, int], Samples] = {}

    def shot(self, name: str, velocity: int, index: int) -> Samples:
        """The sound of one stroke, as `SoundBank.shot` has it.

        The variations go round in turn. Their numbers are primes that no bar of strokes is a multiple of, so a
        pattern does not meet the same ones at its next repeat.

        Raises:
            UnknownNameError: for a sound that the kit has not got.
        """
        layer = max(1, round(velocity / LAYER)) * LAYER
        key = (name, layer, index % self._kit.recipe(name).variations)
        found = self._shots.get(key)
        if found is None:
            found = self._shots[key] = one_shot(self._kit, *key)
        return found

    def __len__(self) -> int:
        return len(self._shots)


@cache
def default_bank() -> ModelledBank:
    """The bank that everything shares within one process."""
    return ModelledBank(kit())
