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
        ("", f'There is no command called ""; use one of: {KNOWN}.\n'),
        ("a\nb", f'There is no command called "a b"; use one of: {KNOWN}.\n'),
    ],
)
def test_an_unknown_command_is_one_line(word: str, sentence: str, capsys: Captured) -> None:
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


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["sheet", "--figure=--", "-o", "a.pdf"], 'argument --figure: "--" is not a value that can be read'),
        (["chains", "--figure=--"], 'argument --figure: "--" is not a value'),
        (["hands", "-o--"], 'argument -o: "--" is not a value'),
        (["hands", ""], "it is empty; give the name of a file or folder"),
        (["demo", "-o", ""], "argument -o/--output: it is empty"),
        (["listen", "a.wav", "--against", "  "], "argument --against: it is empty"),
        (["hands", "\udcff.mid"], r'the name "\udcff.mid" is not valid UTF-8; rename it'),
        (["hands", "a\0b.mid"], r'the name "a\0b.mid" is not valid UTF-8'),
    ],
)
def test_words_that_argparse_lets_through(
    words: list[str],
    says: str,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    output = capsys.readouterr()
    assert says in output.err
    assert output.err.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_a_mistake_of_ours_is_one_sentence_and_a_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object) -> int:
        raise KeyError("notes of a student")

    monkeypatch.setattr("platformdirs.user_cache_dir", lambda name: str(tmp_path / name))
    monkeypatch.setattr("fillwright.cli.fills.grooves.run", fail)
    for _ in range(12):
        assert main(["grooves"]) == 70
    output = capsys.readouterr().err.splitlines()
    logs = sorted((tmp_path / "fillwright" / "errors").iterdir())
    assert len(logs) == 10
    assert output[-1] == (
        f'Fillwright stopped because of an error of its own; report it with the file "{logs[-1]}".'
    )
    assert "KeyError" in logs[-1].read_text("utf-8")
    assert logs[-1].stat().st_mode & 0o777 == 0o600


def test_a_mistake_of_ours_without_a_place_for_the_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object) -> int:
        raise KeyError

    (tmp_path / "file").touch()
    monkeypatch.setattr("platformdirs.user_cache_dir", lambda _: str(tmp_path / "file"))
    monkeypatch.setattr("fillwright.cli.fills.grooves.run", fail)
    assert main(["grooves"]) == 70
    assert capsys.readouterr().err.endswith("report it: KeyError.\n")


def test_too_little_memory_is_one_sentence(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object) -> int:
        raise MemoryError

    monkeypatch.setattr("fillwright.cli.fills.grooves.run", fail)
    assert main(["grooves"]) == 70
    assert capsys.readouterr().err.startswith("There is not enough memory for this")
