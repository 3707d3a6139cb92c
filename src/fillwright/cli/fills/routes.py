"""Move a sticking or a figure around the kit: the playable routes, each with its grade and top tempo."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from fillwright.cli.options import add_reporting, add_sounds, number, open_bank, print_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "sticking",
        nargs="?",
        default="",
        help='strokes, such as "R L R R"; sixteenths unless --rhythm is given',
    )
    parser.add_argument(
        "--figure", default="", metavar="NAME", help="a rudiment instead of a sticking, by name or alias"
    )
    parser.add_argument(
        "--rhythm",
        default="",
        metavar="VALUES",
        help='note values, "16" or "16t 16t 16t 8" [the figure\'s own; 16 for a sticking]',
    )
    parser.add_argument(
        "--beats",
        type=number,
        metavar="N",
        help="the last N beats, filled with repetitions [a bar of a figure; a sticking once]",
    )
    parser.add_argument("--meter", default="4/4", metavar="NAME", help="meter, such as 4/4 or 6/8 [4/4]")
    parser.add_argument("--tempo", type=float, default=80, metavar="BPM", help="tempo in bpm [80]")
    parser.add_argument(
        "--kit", default="five-piece", metavar="NAME", help="the kit, such as four-piece [five-piece]"
    )
    parser.add_argument(
        "--player",
        default="gigging",
        metavar="NAME",
        help="level of the player, such as first-year or steady [gigging]",
    )
    parser.add_argument(
        "--lead", choices=("right", "left"), help="with --figure: hand of the first stroke [the player's own]"
    )
    parser.add_argument(
        "--family",
        default="",
        metavar="NAME",
        help='one way to move around the kit, or "all" [a free search]',
    )
    _add_taste(parser)
    parser.add_argument("--top", type=int, default=12, metavar="N", help="number of routes [12]")
    parser.add_argument(
        "--svg", type=Path, metavar="FILE", help="engrave the first route in its phrase, as SVG"
    )
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="the same as a PDF page")
    parser.add_argument(
        "--play", type=Path, metavar="FILE", help="play the first route: .wav, .flac, .ogg or .mp3"
    )
    add_sounds(parser)
    add_reporting(parser)


def _add_taste(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--away", type=float, default=0.5, metavar="0–1", help="how far from the snare, 0 to 1 [0.5]"
    )
    parser.add_argument(
        "--surfaces", type=int, default=5, metavar="N", help="largest number of drums and cymbals [5]"
    )
    parser.add_argument("--regular", type=float, default=0.8, metavar="0–1", help="how regular, 0 to 1 [0.8]")
    parser.add_argument("--no-cymbals", action="store_true", help="use drums only")
    parser.add_argument("--kick", action="store_true", help="let the foot take strokes of the figure")
    parser.add_argument("--bare-cymbals", action="store_true", help="leave out the kick under crashes")


def run(options: argparse.Namespace) -> int:
    """Find the routes, write the files and list the routes."""
    from fillwright.workbench.routes import describe_route, find_routes

    result = find_routes(_make_request(options))
    if result.routes:
        _write_files(options, result)
    if options.json:
        print_json({"routes": [describe_route(route) for route in result.routes]})
    elif not options.quiet:
        print("\n".join(_format_lines(result, options)))
    return 0


def _make_request(options: argparse.Namespace) -> Any:
    from fillwright.craft.routes.taste import Taste
    from fillwright.music.stroke import Limb
    from fillwright.workbench.routes import RouteRequest

    return RouteRequest(
        sticking=options.sticking,
        figure=options.figure,
        rhythm=options.rhythm,
        beats=options.beats,
        meter=options.meter,
        tempo=options.tempo,
        kit=options.kit,
        player=options.player,
        lead={"right": Limb.RIGHT, "left": Limb.LEFT}.get(options.lead),
        taste=Taste(
            away=options.away,
            surfaces=options.surfaces,
            regular=options.regular,
            cymbals=not options.no_cymbals,
            kick=options.kick,
        ),
        family=options.family,
        top=options.top,
        doubled=not options.bare_cymbals,
    )


def _write_files(options: argparse.Namespace, result: Any) -> None:
    from fillwright.atomic import write_file
    from fillwright.lesson.single_fill import draw_picture
    from fillwright.score.engraving.engrave import engrave
    from fillwright.score.engraving.paper import make_pdf
    from fillwright.workbench.routes import build_route_phrase, build_route_sheet

    first = result.routes[0]
    if options.svg:
        write_file(options.svg, engrave(build_route_sheet(result, first)).svg.encode("utf-8"))
    if options.pdf:
        write_file(options.pdf, draw_picture(build_route_sheet(result, first), make_pdf))
    if options.play:
        from fillwright.sound.files.encode import Tags
        from fillwright.sound.playalong.options import Options
        from fillwright.sound.playalong.render import render
        from fillwright.workbench.play import write_audio

        audio = render(build_route_phrase(result, first), options.tempo, Options(), bank=open_bank(options))
        write_audio(options.play, audio, tags=Tags(title=f"{result.title}: {first.words}"))


def _format_lines(result: Any, options: argparse.Namespace) -> list[str]:
    if not result.routes:
        player = result.setting.player.title.lower()
        return [f"This player ({player}) can't play any such route at {options.tempo:g} bpm."]
    lines = [f"{result.title} in {result.rhythm.name}, at {options.tempo:g} bpm", "grade  top bpm  route"]
    for route in result.routes:
        lines.append(f"{route.grade:>5}  {route.ceiling_bpm:>7.0f}  {route.words}; {route.reason}")
    return lines
