"""Recipes: the ingredients of each file of a pack, so that a rerun makes only what has changed."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from importlib.resources import files
from importlib.resources.abc import Traversable

_SOURCES = (".py", ".toml", ".typ", ".html", ".css", ".mjs")
_MAKERS = ("mido", "numpy", "scipy", "soundfile", "typst", "verovio")


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """One file or a few that are made together.

    Attributes:
        paths: where they go, relative to the pack.
        ingredients: everything their content depends on; its repr stands for it.
        make: gives the content of each path.
        heavy: True if making it is worth a thread of its own (encoding leaves the interpreter free).
    """

    paths: tuple[str, ...]
    ingredients: tuple[object, ...]
    make: Callable[[], tuple[bytes, ...]]
    heavy: bool = False

    @property
    def key(self) -> str:
        """A hash of the ingredients and of the program."""
        text = repr((self.paths, self.ingredients))
        return hash_bytes((hash_program() + text).encode("utf-8"))


def hash_bytes(content: bytes) -> str:
    """Return the SHA-256 of some bytes, in hex."""
    return hashlib.sha256(content).hexdigest()


@cache
def hash_program() -> str:
    """Return a hash of our own code and data and of the libraries' versions.

    A changed program rebuilds everything.
    """
    sources = sorted(_collect_sources(files("fillwright"), ""), key=lambda pair: pair[0])
    versions = [f"{name} {version(name)}" for name in _MAKERS]
    return hash_bytes(b"".join([*(v.encode() for v in versions), *(n.encode() + c for n, c in sources)]))


def _collect_sources(folder: Traversable, name: str) -> list[tuple[str, bytes]]:
    out: list[tuple[str, bytes]] = []
    for child in folder.iterdir():
        path = f"{name}/{child.name}"
        if child.is_dir() and child.name != "__pycache__":
            out += _collect_sources(child, path)
        elif child.name.endswith(_SOURCES):
            out.append((path, child.read_bytes()))
    return out
