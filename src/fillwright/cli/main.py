"""The way in: find the command, run it, turn what a user can put right into one sentence."""

from __future__ import annotations

import argparse
import importlib
import io
import os
import sys
from collections.abc import Sequence
from types import ModuleType
from typing import NoReturn

from fillwright import __version__
from fillwright.errors import FillwrightError, LessonFileError, UnknownNameError

COMMANDS = {
    "lesson": "build everything for a lesson file",
    "demo": "build the demo lesson",
    "sheet": "engrave one fill",
    "playalong": "play one fill into an audio file",
    "clip": "film one fill, with a cursor, for a recording",
    "chains": "count what fills a span; show the best chains or random ones",
    "routes": "lay a sticking or a figure on a kit",
    "hands": "find the hands for a drum part that has none",
    "listen": "say what is early, late or missing in a student's take, and what to fix first",
    "onsets": "list every stroke heard in a recording",
    "rudiments": "list the 40 rudiments, or show one",
    "grooves": "list the grooves",
    "book": "set a whole series as one book",
    "serve": "open the studio in the browser",
    "backup": "write everything in the studio into one file",
    "restore": "put a backup back",
}
"""Every command with its one-line description; each has a module of its name in one of the packages below."""

_PACKAGES = {
    "lessons": ("lesson", "demo", "book"),
    "fills": ("sheet", "playalong", "clip", "chains", "routes", "hands", "rudiments", "grooves"),
    "takes": ("listen", "onsets"),
    "studio": ("serve", "backup", "restore"),
}

BAD_INPUT = 2
INTERRUPTED = 130


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are one sentence."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and how to see what is accepted."""
        self.exit(BAD_INPUT, f"{self.prog}: {_one_line(message)}; see {self.prog} --help.\n")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status: 0, 2 for bad input, 130 when interrupted."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    _print_anything()
    try:
        status = _run(words)
        sys.stdout.flush()
    except SystemExit as done:  # the parser has said what is to be said
        return int(done.code or 0)
    except FillwrightError as error:
        print(_in_words(error), file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        print("Stopped; nothing was changed.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        _let_go_of_stdout()
        return 0
    except OSError as error:
        name = f'"{error.filename}": ' if error.filename else ""
        print(f"{name}{(error.strerror or str(error)).lower()}.", file=sys.stderr)
        return BAD_INPUT
    return status


def _print_anything() -> None:
    """A terminal that lacks a sign, such as ½, gets its code and not a crash."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _let_go_of_stdout() -> None:
    """The reader has gone; what is left to write goes nowhere, or Python would complain of it at exit."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)


def _in_words(error: FillwrightError) -> str:
    """One line; a lesson file's mistakes have one each."""
    return str(error) if isinstance(error, LessonFileError) else _one_line(str(error))


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _run(words: list[str]) -> int:
    if not words or words[0] in ("-h", "--help"):
        print(_help())
        return 0
    if words[0] == "--version":
        print(f"fillwright {__version__}")
        return 0
    name = words[0]
    module = command_module(name)
    parser = Parser(prog=f"fillwright {name}", description=module.__doc__, allow_abbrev=False)
    module.add_arguments(parser)
    status: int = module.run(parser.parse_args(words[1:]))
    return status


def command_module(name: str) -> ModuleType:
    """Import the module of one command.

    Raises:
        UnknownNameError: if there is no such command.
    """
    for package, names in _PACKAGES.items():
        if name in names:
            return importlib.import_module(f"fillwright.cli.{package}.{name}")
    raise UnknownNameError.of("command", name, COMMANDS)


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
