"""The way in: find the command, run it, turn what a user can put right into one sentence."""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Sequence
from typing import NoReturn

from fillwright import __version__
from fillwright.errors import FillwrightError, UnknownNameError

COMMANDS = {
    "lesson": "build everything for a lesson file",
    "demo": "build the demo lesson",
    "sheet": "engrave one fill",
    "playalong": "play one fill into an audio file",
    "rudiments": "list the 40 rudiments, or show one",
    "grooves": "list the grooves",
}
"""Every command with what it does; each has a module of its name here."""

BAD_INPUT = 2
INTERRUPTED = 130


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are one sentence."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and how to see what is accepted."""
        self.exit(BAD_INPUT, f"{self.prog}: {message}; see {self.prog} --help.\n")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status: 0, 2 for bad input, 130 when interrupted."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    try:
        return _run(words)
    except FillwrightError as error:
        print(error, file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        print("Stopped; nothing was changed.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()  # the reader has gone, and Python would complain of it at exit
        return 0


def _run(words: list[str]) -> int:
    if not words or words[0] in ("-h", "--help"):
        print(_help())
        return 0
    if words[0] == "--version":
        print(f"fillwright {__version__}")
        return 0
    name = words[0]
    if name not in COMMANDS:
        raise UnknownNameError.of("command", name, COMMANDS)
    module = importlib.import_module(f"fillwright.cli.{name}")
    parser = Parser(prog=f"fillwright {name}", description=module.__doc__, allow_abbrev=False)
    module.add_arguments(parser)
    status: int = module.run(parser.parse_args(words[1:]))
    return status


def _help() -> str:
    lines = [f"  {name:<11} {what}" for name, what in COMMANDS.items()]
    return "\n".join(
        [
            "fillwright COMMAND …: every fill that a lesson implies, written, engraved, played and printed.",
            "",
            *lines,
            "",
            "fillwright COMMAND --help says more. docs/lesson-file.md describes the lesson file.",
        ]
    )
