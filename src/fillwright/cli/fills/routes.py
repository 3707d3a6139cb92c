"""Lay a sticking or a figure on a kit: the routes that can be played, each with its ceiling and its grade."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from fillwright.cli.options import add_reporting, add_sounds, number, open_bank, print_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("sticking", nargs="?", default="", help='strokes, "R L R R"; sixteenths by default')
    parser.add_argument("--figure", default="", metavar="NAME", help="a rudiment instead, by name or alias")
    parser.add_argument("--rhythm", default="", metavar="VALUES", help='note values, "16" or "16t 16t 16t 8"')
    parser.add_argument("--beats", type=number, metavar="N", help="the last N beats; more turns fill them")
    parser.add_argument("--meter", default="4/4", metavar="NAME", help="4/4, 6/8 …")
    parser.add_argument("--tempo", type=float, default=80, metavar="BPM", help="beats a minute (80)")
    parser.add_argument("--kit", default="five-piece", metavar="NAME", help="four-piece, left-handed …")
    parser.add_argument(
        "--player", default="gigging", metavar="NAME", help="first-year, steady, professional …"
    )
    parser.add_argument("--lead", choices=("right", "left"), help="hand of a figure's first stroke")
    parser.add_argument("--family", default="", metavar="NAME", help='one way to lay it out, or "all" of them')
    _add_taste(parser)
    parser.add_argument("--top", type=int, default=12, metavar="N", help="how many routes (12)")
    parser.add_argument("--svg", type=Path, metavar="FILE", help="engrave the first in its phrase")
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="the same as a page")
    parser.add_argument("--play", type=Path, metavar="FILE", help="play the first: .wav, .flac, .ogg or .mp3")
    add_sounds(parser)
    add_reporting(parser)


def _add_taste(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--away", type=float, default=0.5, metavar="0–1", help="how far from the snare (0.5)")
    parser.add_argument("--surfaces", type=int, default=5, metavar="N", help="at most so many surfaces (5)")
    parser.add_argument("--regular", type=float, default=0.8, metavar="0–1", help="how regular (0.8)")
    parser.add_argument("--no-cymbals", action="store_true", help="drums only")
    parser.add_argument("--kick", action="store_true", help="the foot may take a stroke of the figure")
    parser.add_argument("--bare-cymbals", action="store_true", help="crashes without the kick under them")


def run(options: argparse.Namespace) -> int:
    """Find the routes, write what is asked for, and list them."""
    from fillwright.workbench.routes import find_routes, route_report

    routed = find_routes(_ask(options))
    if routed.routes:
        _write(options, routed)
    if options.json:
        print_json({"routes": [route_report(route) for route in routed.routes]})
    elif not options.quiet:
        print("\n".join(_lines(routed, options)))
    return 0


def _ask(options: argparse.Namespace) -> Any:
    from fillwright.craft.routes.taste import Taste
    from fillwright.music.stroke import Limb
    from fillwright.workbench.routes import Ask

    return Ask(
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


def _write(options: argparse.Namespace, routed: Any) -> None:
    from fillwright.atomic import write_whole
    from fillwright.lesson.single_fill import picture
    from fillwright.score.engraving.engrave import engrave
    from fillwright.score.engraving.paper import make_pdf
    from fillwright.workbench.routes import route_phrase, route_sheet

    first = routed.routes[0]
    if options.svg:
        write_whole(options.svg, engrave(route_sheet(routed, first)).svg.encode("utf-8"))
    if options.pdf:
        write_whole(options.pdf, picture(route_sheet(routed, first), make_pdf))
    if options.play:
        from fillwright.sound.files.encode import Tags
        from fillwright.sound.playalong.options import Options
        from fillwright.sound.playalong.render import render
        from fillwright.workbench.play import write_audio

        audio = render(route_phrase(routed, first), options.tempo, Options(), bank=open_bank(options))
        write_audio(options.play, audio, tags=Tags(title=f"{routed.title}: {first.words}"))


def _lines(routed: Any, options: argparse.Namespace) -> list[str]:
    if not routed.routes:
        player = routed.setting.player.title.lower()
        return [f"No such route can be played at {options.tempo:g} by this player ({player})."]
    lines = [f"{routed.title} in {routed.rhythm.name}, at {options.tempo:g}", "grade  ceiling  route"]
    for route in routed.routes:
        lines.append(f"{route.grade:>5}  {route.ceiling_bpm:>7.0f}  {route.words}; {route.reason}")
    return lines
