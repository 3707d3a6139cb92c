"""Options that several commands share: reporting, one fill, how it is played, the sounds it is played with."""

from __future__ import annotations

import argparse
import json
import re
import sys
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fillwright.sound.playalong.options import Options
    from fillwright.sound.samples.recorded_bank import RecordedBank

TEMPO = 80  # bpm where no tempo is given; ours


def add_reporting(parser: argparse.ArgumentParser) -> None:
    """Add `--json` and `--quiet`."""
    parser.add_argument("--json", action="store_true", help="print the report as JSON")
    parser.add_argument("--quiet", action="store_true", help="print errors only")


def add_fill(parser: argparse.ArgumentParser) -> None:
    """Add the options that describe one fill."""
    parser.add_argument("--figure", required=True, metavar="NAME", help="a rudiment, by name or alias")
    where = parser.add_mutually_exclusive_group()
    where.add_argument(
        "--beats", type=number, metavar="N", help="the last N beats, on the snare; 2.5 starts off the beat"
    )
    where.add_argument(
        "--step", default="whole bar", metavar="NAME", help="a step of the teaching order [whole bar]"
    )
    parser.add_argument(
        "--groove", default="straight eighths", metavar="NAME", help="the groove before it [straight eighths]"
    )
    parser.add_argument(
        "--rhythm",
        default="",
        metavar="VALUES",
        help='note values, "16" or "16t 16t 16t 8" [the figure\'s own]',
    )
    parser.add_argument("--bars", type=int, default=4, metavar="N", help="bars of the phrase [4]")
    parser.add_argument(
        "--lead", choices=("right", "left"), default="right", help="hand of the first stroke [right]"
    )
    parser.add_argument(
        "--hand",
        choices=("right", "left"),
        default="right",
        help="leading hand of the player; left swaps both hands [right]",
    )
    parser.add_argument("--tempo", type=int, default=TEMPO, metavar="BPM", help=f"tempo in bpm [{TEMPO}]")


def add_playing(parser: argparse.ArgumentParser) -> None:
    """Add the options for how a phrase is played."""
    parser.add_argument(
        "--count-in", type=int, metavar="BARS", help="bars of clicks before it, 0 to 2 [1; 0 with --loop]"
    )
    parser.add_argument(
        "--click",
        choices=("beats", "eighths", "backbeats", "fading", "off"),
        default="beats",
        help="click while playing: backbeats are 2 and 4, fading gets softer with every repetition [beats]",
    )
    parser.add_argument(
        "--click-grid", action="store_true", help="give bar, beat and eighth clicks pitches of their own"
    )
    parser.add_argument(
        "--repeats", type=int, default=1, metavar="N", help="number of repetitions of the phrase [1]"
    )
    parser.add_argument(
        "--heard",
        choices=("all", "groove", "fill"),
        default="all",
        help="parts that sound: groove leaves the fill to the student, fill leaves out the groove [all]",
    )
    parser.add_argument(
        "--looseness",
        choices=("off", "slight"),
        default="off",
        help="move strokes a little off, as a player does [off]",
    )
    parser.add_argument(
        "--seed", type=int, default=0, metavar="N", help="number that picks the deviations of --looseness [0]"
    )
    parser.add_argument(
        "--swing",
        type=number,
        default=Fraction(1, 2),
        metavar="PLACE",
        help="place of the second eighth in the beat, 2/3 or 0.6 [1/2, straight]",
    )
    parser.add_argument("--flam-ms", type=float, default=25.0, metavar="MS", help="width of a flam in ms [25]")


def add_sounds(parser: argparse.ArgumentParser) -> None:
    """Add `--sounds` and `--sound-notes`."""
    parser.add_argument(
        "--sounds",
        type=Path,
        metavar="FILE.sf2|DIR",
        help="a SoundFont or a folder of recorded sounds [the modelled kit]",
    )
    parser.add_argument(
        "--sound-notes",
        "--sound-keys",
        type=Path,
        metavar="TABLE.toml",
        help="with --sounds FILE.sf2: the MIDI note of each drum or cymbal [General MIDI]",
    )


def number(text: str) -> Fraction:
    """Read a number as a player writes it: 2, 2.5 or 5/2.

    Raises:
        ArgumentTypeError: for anything else, one with an exponent of millions among them.

    >>> number("2.5")
    Fraction(5, 2)
    """
    if not re.fullmatch(r"-?[0-9]{0,6}(\.[0-9]{1,6}|/[0-9]{1,6})?", text.strip(), re.ASCII):
        raise argparse.ArgumentTypeError(f'"{text[:20]}" is not a number such as 2, 2.5 or 2/3')
    try:
        return Fraction(text)
    except (ValueError, ZeroDivisionError) as error:
        raise argparse.ArgumentTypeError(f'"{text[:20]}" is not a number such as 2, 2.5 or 2/3') from error


def read_choice(options: argparse.Namespace) -> Any:
    """Return the fill that the options describe, as `lesson.single_fill.Choice`.

    Raises:
        FillwrightError: for a tempo out of range.
    """
    from fillwright.lesson.single_fill import FillChoice
    from fillwright.music.stroke import Limb
    from fillwright.music.timing import check_tempo

    check_tempo(options.tempo)
    return FillChoice(
        figure=options.figure,
        beats=options.beats,
        step=options.step,
        groove=options.groove,
        rhythm=options.rhythm,
        bars=options.bars,
        lead=Limb.RIGHT if options.lead == "right" else Limb.LEFT,
        mirrored=options.hand == "left",
    )


def read_playing(options: argparse.Namespace, *, count_in: int = 1) -> Options:
    """Return how a phrase is played, from the options of a command with `add_playing`.

    Args:
        options: parsed options.
        count_in: bars of count-in where the option is left out.
    """
    from fillwright.music.timing import parse_feel
    from fillwright.sound.playalong.options import AudiblePart, Click, Looseness, Options

    return Options(
        count_in_bars=count_in if options.count_in is None else options.count_in,
        click=Click(options.click),
        click_grid=options.click_grid,
        feel=parse_feel(str(options.swing), options.flam_ms),
        repeats=options.repeats,
        audible=AudiblePart(options.heard),
        looseness=Looseness(options.looseness),
        seed=options.seed,
    )


def open_bank(options: argparse.Namespace) -> RecordedBank | None:
    """Open the sounds that the options name; None stands for the modelled kit.

    Raises:
        SoundsError: for sounds that can't be used.
    """
    from fillwright.errors import SoundsError

    if options.sounds is None:
        if options.sound_notes:
            raise SoundsError("--sound-notes belongs to a SoundFont; name one with --sounds.")
        return None
    from fillwright.tables.sounds import open_sounds

    return open_sounds(options.sounds, notes=options.sound_notes, warn=print_warning)


def add_midi_notes(parser: argparse.ArgumentParser) -> None:
    """Add `--midi-notes`, and `--pads` as its old name."""
    parser.add_argument(
        "--midi-notes",
        "--pads",
        type=Path,
        metavar="TABLE.toml",
        help="a table of the MIDI notes of your kit (General MIDI and common electronic kits)",
    )


def print_json(value: Any) -> None:
    """Print a report as JSON."""
    print(json.dumps(value, ensure_ascii=False, indent=1))


def print_warning(sentence: str) -> None:
    """Print a note on the error output."""
    print(sentence, file=sys.stderr)
