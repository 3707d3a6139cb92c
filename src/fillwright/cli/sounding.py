"""The options for other people's sounds, which several commands share."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fillwright.sound.samples.recorded_bank import RecordedBank


def add_sounds(parser: argparse.ArgumentParser) -> None:
    """`--sounds` and `--sound-keys`."""
    parser.add_argument(
        "--sounds", type=Path, metavar="FILE.sf2|DIR", help="a SoundFont or a folder of recorded sounds"
    )
    parser.add_argument(
        "--sound-keys", type=Path, metavar="TABLE.toml", help="which key of the SoundFont is which surface"
    )


def bank_of(options: argparse.Namespace) -> RecordedBank | None:
    """The sounds that the options name, None for the modelled kit's.

    Raises:
        SoundsError: for sounds that can't be used.
    """
    from fillwright.errors import SoundsError

    if options.sounds is None:
        if options.sound_keys:
            raise SoundsError("--sound-keys belongs to a SoundFont; name one with --sounds.")
        return None
    from fillwright.sound.samples.open import open_sounds

    return open_sounds(options.sounds, keys=options.sound_keys, warn=_warn)


def _warn(sentence: str) -> None:
    print(sentence, file=sys.stderr)
