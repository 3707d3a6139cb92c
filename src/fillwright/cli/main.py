"""Entry point: find the command, run it, turn a user's mistake into one sentence."""

from __future__ import annotations

import argparse
import importlib
import io
import os
import re
import sys
import warnings
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType
from typing import Any, NoReturn

from fillwright import __version__
from fillwright.errors import FillwrightError, TableError, UnknownNameError

COMMANDS = {
    "lesson": "build the pack of a lesson file",
    "demo": "build the pack of the demo lesson",
    "sheet": "engrave one fill",
    "playalong": "play one fill into an audio file",
    "clip": "make a film of one fill, with a cursor, to lay over a recording",
    "chains": "count the chains that fill a span; show the best or random ones",
    "routes": "move a sticking or a figure around the kit",
    "hands": "work out the sticking of a drum part",
    "listen": "report on a student's take: early, late and missing strokes, and what to fix first",
    "onsets": "list every stroke detected in a recording",
    "rudiments": "list the 40 rudiments, or show one",
    "grooves": "list the grooves",
    "book": "make one book of a whole series",
    "serve": "open the studio in the browser",
    "backup": "write everything in the studio into one file",
    "restore": "restore a backup",
}
"""Every command with its one-line description; each has a module of its name in one of the packages below."""

_PACKAGES = {
    "lessons": ("lesson", "demo", "book"),
    "fills": ("sheet", "playalong", "clip", "chains", "routes", "hands", "rudiments", "grooves"),
    "takes": ("listen", "onsets"),
    "studio": ("serve", "backup", "restore"),
}

BAD_INPUT = 2  # exit status, as argparse and most Unix commands use it
FAILED = 70  # exit status of a mistake of ours: EX_SOFTWARE of sysexits.h (from memory)
INTERRUPTED = 130  # exit status: 128 plus the number of SIGINT, as shells report it


_LOST_VALUE = re.compile(r"(--[\w-]+=|-\w)--")
"""An option whose value is "--", which argparse drops."""


class Parser(argparse.ArgumentParser):
    """Argument parser whose errors are one sentence, and which refuses paths that name no file."""

    def __init__(self, **settings: Any) -> None:
        """Make a parser as `ArgumentParser` does."""
        super().__init__(**settings)
        self.register("type", Path, read_path)

    def error(self, message: str) -> NoReturn:
        """Exit with one sentence that ends with the command for help."""
        self.exit(BAD_INPUT, f"{self.prog}: {_join_lines(message)}; see {self.prog} --help.\n")


def read_path(text: str) -> Path:
    """Read a path of an argument.

    Raises:
        ArgumentTypeError: for an empty one, and for a name that no file of ours can hold.
    """
    if not text.strip():
        raise argparse.ArgumentTypeError("it is empty; give the name of a file or folder")
    if "\0" in text or any("\ud800" <= character <= "\udfff" for character in text):
        name = text.encode("utf-8", "backslashreplace").decode().replace("\0", "\\0")
        raise argparse.ArgumentTypeError(f'the name "{name}" is not valid UTF-8; rename it')
    return Path(text)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return the exit status: 0, 2 for bad input, 70 for our mistakes, 130 if stopped."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    if arguments is None and not sys.warnoptions:
        warnings.simplefilter("ignore")  # libraries warn programmers, and no user can do anything about it
    _escape_unprintable()
    try:
        status = _run(words)
        sys.stdout.flush()
    except SystemExit as done:  # the parser has printed its sentence
        return int(done.code or 0)
    except FillwrightError as error:
        print(_join_sentences(error), file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        print("Stopped. Nothing was changed.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        _close_stdout()
        return 0
    except OSError as error:
        name = f'"{error.filename}": ' if error.filename else ""
        print(f"{name}{(error.strerror or str(error)).lower()}.", file=sys.stderr)
        return BAD_INPUT
    except Exception as error:
        print(_describe_crash(error, words), file=sys.stderr)
        return FAILED
    return status


def _describe_crash(error: Exception, words: list[str]) -> str:
    """Write the traceback of a mistake of ours to a file, and return the sentence that names it."""
    from fillwright.cli.crash_log import write_crash_log

    if isinstance(error, MemoryError):
        return "There is not enough memory for this; use a smaller file, or close other programs."
    log = write_crash_log(error, words[0] if words and words[0] in COMMANDS else "")
    advice = f'report it with the file "{log}".' if log else f"report it: {type(error).__name__}."
    return f"Fillwright stopped because of an error of its own; {advice}"


def _escape_unprintable() -> None:
    """Make output print the code of a character, such as ½, that the terminal lacks."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _close_stdout() -> None:
    """Send the rest of the output nowhere once its reader has gone, so that Python exits quietly."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)


def _join_sentences(error: FillwrightError) -> str:
    """Return an error on one line; the mistakes of a lesson file have a line each."""
    return str(error) if isinstance(error, TableError) else _join_lines(str(error))


def _join_lines(text: str) -> str:
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
    lost = next((word for word in words[1:] if _LOST_VALUE.fullmatch(word)), None)
    if lost is not None:
        parser.error(f'argument {lost.removesuffix("--").rstrip("=")}: "--" is not a value that can be read')
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
    lines = [f"  {name:<11} {purpose}" for name, purpose in COMMANDS.items()]
    return "\n".join(
        [
            "fillwright COMMAND …: write, engrave, play and print every fill of a lesson",
            "",
            *lines,
            "",
            "Run fillwright COMMAND --help for its options. docs/lesson-file.md describes the lesson file.",
        ]
    )
