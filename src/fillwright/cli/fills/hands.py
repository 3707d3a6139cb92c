"""Work out the sticking of a drum part, and report if the player can play it."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwright.cli.options import add_midi_notes, add_reporting, print_json, print_warning

if TYPE_CHECKING:
    from fillwright.score.parts.part_sticking import PartSticking


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("file", type=Path, metavar="FILE", help="a drum part, MIDI or MusicXML")
    parser.add_argument(
        "--player",
        default="gigging",
        metavar="NAME",
        help="level of the player, such as first-year or steady [gigging]",
    )
    parser.add_argument(
        "--kit", default="", metavar="NAME", help="the kit [five-piece; six-piece where the part needs it]"
    )
    parser.add_argument(
        "--tempo",
        type=parse_tempo,
        metavar="BPM",
        help="tempo of the quarter notes in bpm; scales the whole part [as in the file]",
    )
    add_midi_notes(parser)
    parser.add_argument(
        "--svg", type=Path, metavar="FILE", help="draw the paths of the hands on a plan of the kit, as SVG"
    )
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="the same as a PDF page")
    parser.add_argument(
        "--play", type=Path, metavar="FILE", help="write the part as audio: .wav, .flac, .ogg or .mp3"
    )
    add_reporting(parser)


def parse_tempo(text: str) -> float:
    """Read a tempo in bpm, whole or with decimals.

    Raises:
        ArgumentTypeError: for anything else.

    >>> parse_tempo("413.25")
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
    """Read the part, work out its sticking and report."""
    from fillwright.craft.player.kits import find_kit
    from fillwright.craft.player.players import find_player
    from fillwright.score.parts.drum_file import read_drum_part
    from fillwright.score.parts.midi_notes import get_default_notes
    from fillwright.score.parts.part_sticking import find_part_sticking
    from fillwright.tables.midi_notes import read_midi_notes

    player = find_player(options.player)
    kit = find_kit(options.kit) if options.kit else None
    notes = (
        read_midi_notes(options.midi_notes, warn=print_warning) if options.midi_notes else get_default_notes()
    )
    part = read_drum_part(options.file, notes)
    sticking = find_part_sticking(part, player, kit=kit, tempo=options.tempo, pads=notes)
    _write_files(options, sticking)
    if options.json:
        print_json(encode_sticking(sticking))
    elif not options.quiet:
        from fillwright.score.parts.sticking_text import describe_part

        print("\n".join(describe_part(sticking)))
    return 0


def _write_files(options: argparse.Namespace, sticking: PartSticking) -> None:
    if not (options.svg or options.pdf or options.play):
        return
    from fillwright.atomic import write_file
    from fillwright.sound.files.encode import Tags, encode_audio
    from fillwright.workbench.part_sticking import draw_plan, draw_plan_pdf, play_part

    if options.svg:
        write_file(options.svg, draw_plan(sticking).svg.encode("utf-8"))
    if options.pdf:
        write_file(options.pdf, draw_plan_pdf(sticking))
    if options.play:
        tags = Tags(title=options.file.stem)
        write_file(options.play, encode_audio(play_part(sticking), options.play.suffix.lower(), tags=tags))


def encode_sticking(sticking: PartSticking) -> dict[str, Any]:
    """Return a part as `--json` prints it; times in seconds from the start of the file, at the target tempo."""
    scale = sticking.scale
    return {
        "playable": sticking.sticking.playable,
        "peak_demand": sticking.sticking.peak_demand,
        "ceiling_bpm": sticking.ceiling_bpm,
        "tempo": sticking.tempo,
        "player": sticking.player.name,
        "kit": sticking.kit.name,
        "strokes": [
            {
                "time": round(stroke.struck.onset_seconds * scale, 6),
                "surface": stroke.struck.surface,
                "hand": played.limb.value,
                "demand": round(played.demand, 6),
                "bar": stroke.bar,
                "beat": round(stroke.beat, 4),
            }
            for stroke, played in zip(sticking.strokes, sticking.sticking.strokes, strict=True)
        ],
        "unplayable": list(sticking.unplayable),
        "report": list(sticking.report),
    }
