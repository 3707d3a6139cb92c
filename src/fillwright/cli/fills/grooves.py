"""List the grooves."""

from __future__ import annotations

import argparse

from fillwright.cli.options import add_reporting, print_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    add_reporting(parser)


def run(options: argparse.Namespace) -> int:
    """Print each groove with its meter, tempos and what it plays."""
    from fillwright.music.grooves import load_grooves

    rows = [
        {
            "name": groove.name,
            "meter": groove.meter.name,
            "tempo": list(groove.tempo),
            "surfaces": list(dict.fromkeys(hit.surface.name for hit in groove.hits)),
        }
        for groove in load_grooves()
    ]
    if options.json:
        print_json(rows)
    elif not options.quiet:
        for groove in load_grooves():
            low, high = groove.tempo
            played = ", ".join(dict.fromkeys(hit.surface.name for hit in groove.hits))
            print(f"{groove.name:<30} {groove.meter.name:<5} {low:>3}–{high:<3}  {played}")
    return 0
