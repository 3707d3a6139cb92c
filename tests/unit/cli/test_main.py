"""The way in: finding commands, help, exit statuses, one sentence for what is wrong, and a quick start."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

from fillwright import __version__
from fillwright.cli import main as entry
from fillwright.cli.main import BAD_INPUT, COMMANDS, INTERRUPTED, main
from fillwright.errors import FillwrightError, Mistake, MistakeKind, TableError

ROOT = Path(__file__).parents[3]
HEAVY = {"numpy", "scipy", "verovio", "typst", "soundfile", "rich", "msgspec", "mido"}

KNOWN = ", ".join(COMMANDS)

Captured = pytest.CaptureFixture[str]


@pytest.mark.parametrize("words", [[], ["--help"], ["-h"]])
def test_help_names_every_command(words: list[str], capsys: Captured) -> None:
    assert main(words) == 0
    out, err = capsys.readouterr()
    for name, what in COMMANDS.items():
        assert f"  {name} " in out
        assert what in out
    assert err == ""


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_a_module_that_says_what_it_does(name: str, capsys: Captured) -> None:
    module = entry.command_module(name)
    assert module.__doc__
    assert callable(module.run)
    assert main([name, "--help"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith(f"usage: fillwright {name}")
    assert " ".join(module.__doc__.split()) in " ".join(out.split())
    assert "--json" in out
    assert "--quiet" in out
    assert err == ""


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_stands_in_the_readme_or_the_docs(name: str) -> None:
    pages = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
    assert any(f"fillwright {name}" in page.read_text("utf-8") for page in pages)


def test_every_module_of_a_command_is_a_command() -> None:
    folder = Path(entry.__file__).parent
    assert {path.stem for path in folder.glob("*/*.py")} - {"__init__"} == set(COMMANDS)


def test_the_version(capsys: Captured) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"fillwright {__version__}\n"


@pytest.mark.parametrize(
    ("word", "sentence"),
    [
        ("sheat", 'There is no command called "sheat"; did you mean "sheet"?\n'),
        ("", f'There is no command called ""; known are: {KNOWN}.\n'),
        ("a\nb", f'There is no command called "a b"; known are: {KNOWN}.\n'),
    ],
)
def test_an_unknown_command_is_told_in_one_line(word: str, sentence: str, capsys: Captured) -> None:
    assert main([word]) == BAD_INPUT
    assert capsys.readouterr() == ("", sentence)


def command_that(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    """The command `grooves` raises an error."""

    def run(options: object) -> int:
        raise error

    monkeypatch.setattr("fillwright.cli.fills.grooves.run", run)


TWO_MISTAKES = TableError(
    "one.toml",
    tuple(Mistake(line=n, kind=MistakeKind.VALUE, message=text) for n, text in ((1, "a"), (2, "b"))),
)


@pytest.mark.parametrize(
    ("error", "status", "told"),
    [
        (FillwrightError("It can't be."), BAD_INPUT, "It can't be.\n"),
        (FillwrightError("Two\nlines."), BAD_INPUT, "Two lines.\n"),
        (TWO_MISTAKES, BAD_INPUT, "one.toml, line 1: a\none.toml, line 2: b\n"),
        (OSError(36, "File name too long", "aaa"), BAD_INPUT, '"aaa": file name too long.\n'),
        (OSError("Gone"), BAD_INPUT, "gone.\n"),
        (KeyboardInterrupt(), INTERRUPTED, "Stopped. Nothing was changed.\n"),
        (SystemExit(None), 0, ""),
    ],
)
def test_what_goes_wrong_is_told_and_has_a_status(
    error: BaseException, status: int, told: str, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    command_that(monkeypatch, error)
    assert main(["grooves"]) == status
    assert capsys.readouterr() == ("", told)


def test_a_mistake_of_ours_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    command_that(monkeypatch, ZeroDivisionError())
    with pytest.raises(ZeroDivisionError):
        main(["grooves"])


def run(program: str, *words: str, encoding: str = "utf-8") -> subprocess.CompletedProcess[bytes]:
    environment = {"PYTHONIOENCODING": encoding, "PATH": ""}
    return subprocess.run(
        [sys.executable, "-c", program, *words], capture_output=True, check=False, env=environment
    )


MAIN = "import sys; from fillwright.cli.main import main; sys.exit(main())"


def test_help_pulls_in_nothing_heavy() -> None:
    program = (
        "import sys, json\nfrom fillwright.cli.main import main\n"
        "statuses = [main(words) for words in ([], ['--help'], ['--version'])]\n"
        "for name in ('lesson', 'demo', 'sheet', 'playalong', 'rudiments', 'grooves'): main([name, '--help'])\n"
        "main(['grooves']); main(['rudiments'])\n"
        "print(json.dumps(sorted(sys.modules)), file=sys.stderr)\n"
    )
    done = run(program)
    assert done.returncode == 0
    loaded = {name.partition(".")[0] for name in json.loads(done.stderr)}
    assert "fillwright" in loaded
    assert not HEAVY & loaded


def test_a_terminal_that_lacks_a_sign_gets_its_code() -> None:
    done = run(MAIN, "grooves", encoding="ascii")
    assert (done.returncode, done.stderr) == (0, b"")
    assert rb"60\u2013140" in done.stdout


def test_a_reader_that_leaves_early_is_no_mistake() -> None:
    words = [sys.executable, "-c", MAIN, "rudiments"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as started:
        assert started.stdout
        assert started.stderr
        started.stdout.close()
        assert started.stderr.read() == b""
    assert started.returncode == 0


def test_the_console_script_is_the_main_function() -> None:
    assert 'fillwright = "fillwright.cli.main:main"' in (ROOT / "pyproject.toml").read_text("utf-8")


def test_streams_that_can_t_be_changed_are_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = io.StringIO()
    monkeypatch.setattr(sys, "stdout", plain)
    assert main(["--version"]) == 0
    assert plain.getvalue() == f"fillwright {__version__}\n"
