"""The sounds that the ear learns: names, classes, lengths and usual loudness."""

from __future__ import annotations

from dataclasses import dataclass

from fillwright.listen.onsets.ear.outputs import CLASSES

RATE = 24_000
"""Samples per second of everything that the ear hears: attacks of drums need no more than 12 kHz; ours."""

LEAD = 240
"""Samples of every shot before its attack, 10 ms: a slow rise, the rustle of a hi-hat; ours, not measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """One sound of a kit.

    Attributes:
        name: surface, or "not a drum".
        label: class that the ear reports.
        seconds: longest length of a shot.
        stem: group of sounds that stand at one place and share a room response.
        loudness_db: usual loudness against the snare; ours, not measured.
        substitute: sound that is played if a kit lacks this one; "" if another kit's is.
    """

    name: str
    label: str
    seconds: float
    stem: int
    loudness_db: float
    substitute: str = ""

    @property
    def label_index(self) -> int:
        """Number of the class."""
        return CLASSES.index(self.label)

    @property
    def is_tom(self) -> bool:
        """True for toms."""
        return self.label == "tom"


def _list_sounds() -> tuple[Sound, ...]:
    rows: tuple[tuple[str, str, float, int, float, str], ...] = (
        ("kick", "kick", 0.8, 0, 0, ""),
        ("snare", "snare", 0.8, 1, 0, ""),
        ("rim", "rim", 0.5, 1, -5, ""),
        ("high tom", "tom", 1.3, 2, 0, ""),
        ("mid tom", "tom", 1.3, 2, 0, ""),
        ("floor tom", "tom", 1.3, 3, 0, ""),
        ("second floor tom", "tom", 1.3, 3, 0, "floor tom"),
        ("hi-hat", "hi-hat", 0.5, 4, -9, ""),
        ("foot hi-hat", "hi-hat", 0.4, 4, -14, "hi-hat"),
        ("open hi-hat", "open hi-hat", 1.2, 4, -6, ""),
        ("crash", "crash", 2.4, 5, -2, ""),
        ("second crash", "crash", 2.4, 5, -4, "crash"),
        ("ride bow", "ride", 1.6, 6, -9, ""),
        ("ride bell", "ride", 1.6, 6, -7, "ride bow"),
        ("not a drum", "not a drum", 0.8, 7, -8, ""),
    )
    keys = ("name", "label", "seconds", "stem", "loudness_db", "substitute")
    return tuple(Sound(**dict(zip(keys, row, strict=True))) for row in rows)  # type: ignore[arg-type]


SOUNDS = {sound.name: sound for sound in _list_sounds()}
"""Every sound by name."""

STEMS = 1 + max(sound.stem for sound in SOUNDS.values())
"""Number of stems."""

TOMS = tuple(sound.name for sound in SOUNDS.values() if sound.is_tom)
"""Names of the toms, from high to low."""
