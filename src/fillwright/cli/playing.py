"""Options of everything that plays a phrase: count-in, click, feel, what is heard."""

from __future__ import annotations

import argparse
from fractions import Fraction
from typing import TYPE_CHECKING

from fillwright.cli.options import number

if TYPE_CHECKING:
    from fillwright.sound.playalong.options import Options


def add_playing(parser: argparse.ArgumentParser) -> None:
    """What a teacher may ask of a play-along."""
    parser.add_argument(
        "--count-in", type=int, metavar="BARS", help="bars of clicks before it, 0 to 2 (1; a loop has none)"
    )
    parser.add_argument(
        "--click",
        choices=("beats", "eighths", "backbeats", "fading", "off"),
        default="beats",
        help="click while playing: backbeats are 2 and 4, fading gets softer with every repeat (beats)",
    )
    parser.add_argument(
        "--click-grid", action="store_true", help="bar, beat and eighth click at pitches of their own"
    )
    parser.add_argument("--repeats", type=int, default=1, metavar="N", help="times the phrase is played (1)")
    parser.add_argument(
        "--heard",
        choices=("all", "groove", "fill"),
        default="all",
        help="groove leaves the fill to the student, fill sounds alone (all)",
    )
    parser.add_argument(
        "--looseness", choices=("off", "slight"), default="off", help="strokes a little off, as a player's are"
    )
    parser.add_argument("--seed", type=int, default=0, metavar="N", help="of the looseness (0)")
    parser.add_argument(
        "--swing",
        type=number,
        default=Fraction(1, 2),
        metavar="PLACE",
        help="where the second eighth falls, 2/3 or 0.6",
    )
    parser.add_argument("--flam-ms", type=float, default=25.0, metavar="MS", help="width of a flam (25)")


def playing(options: argparse.Namespace, *, count_in: int = 1) -> Options:
    """What the options ask for.

    Args:
        options: of a command with `add_playing`.
        count_in: bars where none are asked for.
    """
    from fillwright.music.timing import read_feel
    from fillwright.sound.playalong.options import Click, Heard, Looseness, Options

    return Options(
        count_in_bars=count_in if options.count_in is None else options.count_in,
        click=Click(options.click),
        click_grid=options.click_grid,
        feel=read_feel(str(options.swing), options.flam_ms),
        repeats=options.repeats,
        heard=Heard(options.heard),
        looseness=Looseness(options.looseness),
        seed=options.seed,
    )
