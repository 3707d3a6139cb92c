"""List every stroke heard in a recording: when, how loud, how sure."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwright.cli.options import add_reporting, print_json

if TYPE_CHECKING:
    from fillwright.listen.onset_list import Heard


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("audio", type=Path, metavar="AUDIO", help="a recording in any common format")
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Read the recording, listen, report."""
    from fillwright.listen.onsets.decode import read_take
    from fillwright.listen.onsets.detect import hear

    heard = hear(*read_take(options.audio))
    if options.json:
        print_json(as_json(heard))
    elif not options.quiet:
        print("\n".join(lines(heard)))
    return 0


def as_json(heard: Heard) -> dict[str, Any]:
    """What is heard as `--json` gives it; times in seconds from the start of the recording."""
    return {
        "onsets": [round(one.seconds, 5) for one in heard.onsets],
        "strength_db": [round(one.strength_db, 2) for one in heard.onsets],
        "level_db": [round(one.level_db, 2) for one in heard.onsets],
        "trust": [round(one.trust, 3) for one in heard.onsets],
        "seconds": round(heard.seconds, 5),
        "noise_db": round(heard.noise_db, 1),
        "loudest_db": round(heard.loudest_db, 1),
        "clipped_share": round(heard.clipped_share, 4),
        "top_hz": round(heard.top_hz),
    }


def lines(heard: Heard) -> list[str]:
    """What is heard as a table: seconds, seconds since the stroke before, loudness, how sure."""
    if not heard.onsets:
        return [f"No stroke is heard in {heard.seconds:.2f} s."]
    made = ["  seconds     since   level   sure"]
    before = None
    for one in heard.onsets:
        since = "" if before is None else f"{one.seconds - before:.4f}"
        made.append(f"{one.seconds:9.4f} {since:>9} {one.level_db:5.0f} dB {one.trust:5.0%}")
        before = one.seconds
    made.append(
        f"{len(heard.onsets)} strokes in {heard.seconds:.2f} s; the background is at {heard.noise_db:.0f} dB."
    )
    return made
