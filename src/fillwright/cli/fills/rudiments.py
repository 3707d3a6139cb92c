"""List the 40 rudiments, or show one with its notation."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fillwright.cli.options import add_reporting, print_json

if TYPE_CHECKING:
    from fillwright.music.figure import Figure


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("name", nargs="?", metavar="NAME", help="a rudiment, by name or alias")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="with NAME: engrave it as SVG")
    parser.add_argument("--png", type=Path, metavar="FILE", help="with NAME: engrave it as PNG")
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Print the list or one rudiment, and write its pictures."""
    from fillwright.errors import UnknownNameError
    from fillwright.music.rudiments import find_figure, load_rudiments

    if options.name is None:
        if options.svg or options.png:
            raise UnknownNameError(
                "A picture shows one rudiment; name it, for example fillwright rudiments flam."
            )
        _report(options, list(load_rudiments()))
        return 0
    figure = find_figure(options.name)
    _write_pictures(options, figure)
    _report(options, [figure], alone=True)
    return 0


def _write_pictures(options: argparse.Namespace, figure: Figure) -> None:
    if not (options.svg or options.png):
        return
    from fillwright.atomic import write_file
    from fillwright.craft.rudiment_sheet import build_sheet_phrase
    from fillwright.lesson.single_fill import draw_picture
    from fillwright.score.engraving.engrave import engrave
    from fillwright.score.engraving.paper import make_png
    from fillwright.score.sheet import Sheet

    sheet = Sheet(phrase=build_sheet_phrase(figure), cue=figure.cue)
    if options.svg:
        write_file(options.svg, engrave(sheet).svg.encode("utf-8"))
    if options.png:
        write_file(options.png, draw_picture(sheet, make_png))


def _report(options: argparse.Namespace, figures: list[Figure], *, alone: bool = False) -> None:
    if options.json:
        rows = [encode_figure(figure) for figure in figures]
        print_json(rows[0] if alone else rows)
    elif options.quiet:
        return
    elif alone:
        print(_format_figure(figures[0]))
    else:
        for figure in figures:
            turns = figure.sticking + (f" | {figure.sticking_left}" if figure.alternates else "")
            print(f"{figure.sheet:>2}  {figure.name:<25} {figure.group:<15} {turns}")


def encode_figure(figure: Figure) -> dict[str, Any]:
    """Return one rudiment as `--json` prints it."""
    return {
        "name": figure.name,
        "sheet": figure.sheet,
        "group": figure.group,
        "family": figure.family,
        "aliases": list(figure.aliases),
        "sticking": figure.sticking,
        "sticking_left": figure.sticking_left,
        "strokes": figure.main_strokes,
        "alternates": figure.alternates,
        "rhythms": [rhythm.name for rhythm in figure.rhythms],
    }


def _format_figure(figure: Figure) -> str:
    from fillwright.craft.rudiment_sheet import build_sheet_phrase
    from fillwright.score.text import format_notation

    also = f" (also {', '.join(figure.aliases)})" if figure.aliases else ""
    rhythms = "; ".join(rhythm.name for rhythm in figure.rhythms)
    return "\n".join(
        [
            f"{figure.name}{also}",
            f"number {figure.sheet}, {figure.group}, {figure.family} family; strokes: {figure.main_strokes}",
            f"rhythms: {rhythms}",
            "",
            format_notation(build_sheet_phrase(figure)),
        ]
    )
