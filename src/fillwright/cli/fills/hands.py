"""Find the hands for a drum part that has none, and say whether they can play it."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwright.cli.options import add_reporting, print_json

if TYPE_CHECKING:
    from fillwright.score.parts.part_sticking import PartSticking


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("file", type=Path, metavar="FILE", help="a drum part, MIDI or MusicXML")
    parser.add_argument("--player", default="gigging", metavar="NAME", help="who plays (gigging)")
    parser.add_argument(
        "--kit", default="", metavar="NAME", help="where (five-piece, or six-piece if it must be)"
    )
    parser.add_argument(
        "--tempo",
        type=tempo,
        metavar="BPM",
        help="quarters a minute (as in the file); the whole part is scaled",
    )
    parser.add_argument("--pads", type=Path, metavar="FILE", help="a table of your own of what each key is")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="draw the hands' paths on the kit plan")
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="the same as a page")
    parser.add_argument("--play", type=Path, metavar="FILE", help="play the part: .wav, .flac, .ogg or .mp3")
    add_reporting(parser)


def tempo(text: str) -> float:
    """A tempo, whole or with any number of decimals.

    Raises:
        ArgumentTypeError: for anything else.

    >>> tempo("413.25")
    413.25
    """
    try:
        number = float(text) if len(text) <= 40 else math.nan
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise argparse.ArgumentTypeError(f'"{text[:20]}" is not a tempo such as 96 or 96.5')
    return number


def run(options: argparse.Namespace) -> int:
    """Read the part, find its hands and report."""
    from fillwright.craft.player.kits import find_kit
    from fillwright.craft.player.players import find_player
    from fillwright.score.parts.drum_file import read_drum_part
    from fillwright.score.parts.midi_notes import default_pads, read_pads
    from fillwright.score.parts.part_sticking import find_part_sticking

    player = find_player(options.player)
    kit = find_kit(options.kit) if options.kit else None
    pads = read_pads(options.pads) if options.pads else default_pads()
    part = read_drum_part(options.file, pads)
    found = find_part_sticking(part, player, kit=kit, tempo=options.tempo, pads=pads)
    _write(options, found)
    if options.json:
        print_json(as_json(found))
    elif not options.quiet:
        from fillwright.score.parts.sticking_text import describe_part

        print("\n".join(describe_part(found)))
    return 0


def _write(options: argparse.Namespace, found: PartHands) -> None:
    if not (options.svg or options.pdf or options.play):
        return
    from fillwright.atomic import write_whole
    from fillwright.sound.files.encode import Tags, encode_audio
    from fillwright.workbench.part_sticking import audio_of, plan_of, plan_pdf

    if options.svg:
        write_whole(options.svg, plan_of(found).svg.encode("utf-8"))
    if options.pdf:
        write_whole(options.pdf, plan_pdf(found))
    if options.play:
        tags = Tags(title=options.file.stem)
        write_whole(options.play, encode_audio(audio_of(found), options.play.suffix.lower(), tags=tags))


def as_json(found: PartHands) -> dict[str, Any]:
    """A part as `--json` gives it; times in seconds from the start of the file, at the tempo asked."""
    scale = found.scale
    return {
        "playable": found.sticking.playable,
        "peak_demand": found.sticking.peak_demand,
        "ceiling_bpm": found.ceiling_bpm,
        "tempo": found.tempo,
        "player": found.player.name,
        "kit": found.kit.name,
        "strokes": [
            {
                "time": round(stroke.struck.onset_seconds * scale, 6),
                "surface": stroke.struck.surface,
                "hand": played.limb.value,
                "demand": round(played.demand, 6),
                "bar": stroke.bar,
                "beat": round(stroke.beat, 4),
            }
            for stroke, played in zip(found.strokes, found.sticking.played, strict=True)
        ],
        "unplayable": list(found.unplayable),
        "report": list(found.report),
    }
