"""List every stroke detected in a recording: time, loudness and confidence."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwright.cli.options import add_reporting, print_json

if TYPE_CHECKING:
    from fillwright.listen.detected_take import DetectedTake


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("audio", type=Path, metavar="AUDIO", help="a recording in any common format")
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """List the onsets of a recording."""
    from fillwright.listen.onsets.decode import read_take
    from fillwright.listen.onsets.detect import detect_onsets

    detected = detect_onsets(*read_take(options.audio))
    if options.json:
        print_json(encode_onsets(detected))
    elif not options.quiet:
        print("\n".join(format_onsets(detected)))
    return 0


def encode_onsets(detected: DetectedTake) -> dict[str, Any]:
    """Return the onsets as `--json` prints them; times in seconds from the start of the recording."""
    return {
        "onsets": [round(onset.seconds, 5) for onset in detected.onsets],
        "strength_db": [round(onset.strength_db, 2) for onset in detected.onsets],
        "loudness_db": [round(onset.loudness_db, 2) for onset in detected.onsets],
        "confidence": [round(onset.confidence, 3) for onset in detected.onsets],
        "seconds": round(detected.seconds, 5),
        "noise_db": round(detected.noise_db, 1),
        "loudest_db": round(detected.loudest_db, 1),
        "clipped_share": round(detected.clipped_share, 4),
        "cutoff_hz": round(detected.cutoff_hz),
    }


def format_onsets(detected: DetectedTake) -> list[str]:
    """Return the onsets as lines of a table: time, gap to the previous stroke, loudness, confidence."""
    if not detected.onsets:
        return [f"No strokes were detected in {detected.seconds:.2f} s."]
    lines = ["     time       gap loudness  confidence"]
    previous = None
    for onset in detected.onsets:
        gap = "" if previous is None else f"{onset.seconds - previous:.4f} s"
        lines.append(f"{onset.seconds:7.4f} s {gap:>9} {onset.loudness_db:5.0f} dB {onset.confidence:11.0%}")
        previous = onset.seconds
    noise = f"background at {detected.noise_db:.0f} dB"
    lines.append(f"{len(detected.onsets)} strokes in {detected.seconds:.2f} s, {noise}")
    return lines
