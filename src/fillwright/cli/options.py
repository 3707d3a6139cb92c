"""Arguments that several commands share, and how they report."""

from __future__ import annotations

import argparse
import json
import re
from fractions import Fraction
from typing import Any

TEMPO = 80
"""Beats a minute where none are asked for."""


def add_reporting(parser: argparse.ArgumentParser) -> None:
    """`--json` and `--quiet`."""
    parser.add_argument("--json", action="store_true", help="report as JSON")
    parser.add_argument("--quiet", action="store_true", help="say nothing unless something is wrong")


def print_json(value: Any) -> None:
    """A report as JSON."""
    print(json.dumps(value, ensure_ascii=False, indent=1))


def add_fill(parser: argparse.ArgumentParser) -> None:
    """The options that describe one fill."""
    parser.add_argument("--figure", required=True, metavar="NAME", help="a rudiment, by name or alias")
    where = parser.add_mutually_exclusive_group()
    where.add_argument(
        "--beats", type=number, metavar="N", help="the last N beats, on the snare; 2.5 starts off the beat"
    )
    where.add_argument(
        "--step", default="whole bar", metavar="NAME", help='a step of the teaching order, "round the kit"'
    )
    parser.add_argument("--groove", default="straight eighths", metavar="NAME", help="the groove before it")
    parser.add_argument("--rhythm", default="", metavar="VALUES", help='note values, "16" or "16t 16t 16t 8"')
    parser.add_argument("--bars", type=int, default=4, metavar="N", help="bars of the phrase (4)")
    parser.add_argument("--lead", choices=("right", "left"), default="right", help="hand of the first stroke")
    parser.add_argument("--hand", choices=("right", "left"), default="right", help="left exchanges all hands")
    parser.add_argument("--tempo", type=int, default=TEMPO, metavar="BPM", help=f"beats a minute ({TEMPO})")


def number(text: str) -> Fraction:
    """A number as a player writes it: 2, 2.5 or 5/2.

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


def choice(options: argparse.Namespace) -> Any:
    """The fill that the options describe, as `lesson.single.Choice`."""
    from fillwright.lesson.single_fill import Choice
    from fillwright.music.stroke import Limb
    from fillwright.music.timing import check_tempo

    check_tempo(options.tempo)
    return Choice(
        figure=options.figure,
        beats=options.beats,
        step=options.step,
        groove=options.groove,
        rhythm=options.rhythm,
        bars=options.bars,
        lead=Limb.RIGHT if options.lead == "right" else Limb.LEFT,
        mirrored=options.hand == "left",
    )
