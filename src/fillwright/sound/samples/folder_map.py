"""The layers of a folder of recorded sounds, as its map `sounds.toml` lists them for `tables.sounds`."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

MAP = "sounds.toml"
"""Name of the map."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderLayer:
    """The strokes on one surface up to some velocity.

    Attributes:
        surface: its name.
        up_to: hardest velocity, 1 to 127; the files are played as they are there, softer below.
        files: alternates, played in turn.
        gain_db: of this layer and the whole map together.
        choked_by: surfaces whose strokes stop it.
    """

    surface: str
    up_to: int
    files: tuple[Path, ...]
    gain_db: float
    choked_by: frozenset[str]
