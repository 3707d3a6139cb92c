"""Install the wheel without the constraints file and use it: `make test-install`.

On every Python of this machine that pyproject.toml accepts, with the newest version of each direct dependency
and with the lowest that pyproject.toml names: builds a lesson, listens to a take as wav, mp3, m4a and webm,
serves the studio. Prints a table. Give versions of Python, such as 3.12, to try only those.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import av
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from tests.wheel import (  # noqa: E402 - the tree is on the path only now
    LESSON,
    InstallError,
    build_wheel,
    fetch,
    make_environment,
    run_command,
    serve_studio,
)

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
EXTRAS = ("school", "soundfonts")
TAKES = {"wav": "pcm_s16le", "mp3": "libmp3lame", "m4a": "aac", "webm": "libopus"}
"""Containers of a take, with the codec of each."""

LOWEST, NEWEST = "lowest", "newest"
_LAST_LINES = 6  # of a failure that are printed; ours


class TrialError(Exception):
    """A trial that failed; the text says how."""


def find_pythons() -> dict[str, Path]:
    """Return the interpreters that pyproject.toml accepts, the newest of each minor version: {"3.12": path}."""
    folders = [Path(folder) for folder in os.environ.get("PATH", "").split(os.pathsep) if folder]
    pyenv = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv"))
    places = [path for folder in folders for path in folder.glob("python3.*")]
    places += pyenv.glob("versions/*/bin/python3.*")
    found: dict[tuple[int, ...], Path] = {}
    for place in places:
        if re.fullmatch(r"python3\.\d+", place.name):
            found |= _identify(place)
    accepted = SpecifierSet(PROJECT["requires-python"])
    return {
        f"{version[0]}.{version[1]}": found[version]
        for version in sorted(found)
        if accepted.contains(".".join(map(str, version)))
    }


def _identify(python: Path) -> dict[tuple[int, ...], Path]:
    """Return an interpreter by its version; nothing for one that does not run."""
    code = "import sys; print(*sys.version_info[:3], sys.executable)"
    done = subprocess.run([python, "-c", code], check=False, capture_output=True, text=True)
    if done.returncode:
        return {}
    *version, path = done.stdout.split(maxsplit=3)
    return {tuple(map(int, version)): Path(path.strip())}


def list_lowest(python: str) -> list[str]:
    """Return "name==version" for the lower bound of every direct dependency, on one version of Python."""
    lines = list(PROJECT["dependencies"])
    for extra in EXTRAS:
        lines += PROJECT["optional-dependencies"][extra]
    pins = []
    for requirement in map(Requirement, lines):
        if requirement.marker and not requirement.marker.evaluate({"python_version": python}):
            continue
        (lowest,) = (bound.version for bound in requirement.specifier if bound.operator == ">=")
        pins.append(f"{requirement.name}=={lowest}")
    return pins


def encode_takes(wav: Path, folder: Path) -> None:
    """Encode a played fill as a take in every container."""
    for kind, codec in TAKES.items():
        with av.open(str(wav)) as source, av.open(str(folder / f"take.{kind}"), "w") as target:
            stream = target.add_stream(codec, rate=48_000 if kind == "webm" else 44_100, layout="stereo")
            resampler = av.AudioResampler(
                format=stream.codec_context.format, layout="stereo", rate=stream.codec_context.rate
            )
            for frame in source.decode(audio=0):
                for part in resampler.resample(frame):
                    target.mux(stream.encode(part))
            target.mux(stream.encode(None))


def try_install(commands: Path, folder: Path) -> Iterator[tuple[str, Callable[[], None]]]:
    """Yield the name of each trial with the trial; they run in order."""
    fillwright = commands / "fillwright"

    def run(*words: str) -> None:
        done = run_command(fillwright, *words, folder=folder)
        if done.returncode:
            raise TrialError(done.stderr.strip() or f"exit status {done.returncode}")

    def build_lesson() -> None:
        (folder / "one.toml").write_text(LESSON)
        run("lesson", "one.toml", "-o", "pack")
        if not (folder / "pack" / "handout.pdf").read_bytes().startswith(b"%PDF"):
            raise TrialError("handout.pdf is not a PDF")

    def listen(kind: str) -> None:
        (midi,) = (folder / "pack" / "fills").glob("*/*.mid")
        if not (folder / f"take.{kind}").exists():
            (played,) = midi.parent.glob("*.wav")
            encode_takes(played, folder)
        run("listen", f"take.{kind}", "--against", str(midi), "--tempo", "120", "-o", f"report-{kind}")

    def serve() -> None:
        with serve_studio(fillwright, folder) as address:
            if b"<html" not in fetch(address) or b"<svg" not in fetch(f"{address}static/mark.svg"):
                raise TrialError("a page or the icon is missing")

    def import_extras() -> None:
        done = run_command(commands / "python", "-c", "import psycopg", folder=folder)
        if done.returncode:
            raise TrialError(done.stderr.strip())

    yield "lesson", build_lesson
    for kind in TAKES:
        yield f"listen {kind}", lambda kind=kind: listen(kind)  # type: ignore[misc]
    yield "serve", serve
    yield "extras", import_extras


def check(wheel: Path, python: str, interpreter: Path, versions: str, folder: Path) -> dict[str, str]:
    """Install and try one combination; return each trial's result, "yes" or the reason why not."""
    bounds = []
    if versions == LOWEST:
        (folder / "lowest.txt").write_text("\n".join(list_lowest(python)) + "\n")
        bounds = ["--constraint", str(folder / "lowest.txt")]
    package = f"{wheel}[{','.join(EXTRAS)}]"
    try:
        commands = make_environment(interpreter, folder / "venv", "--only-binary", ":all:", *bounds, package)
    except InstallError as error:
        return {"install": _cut(str(error))}
    results = {"install": "yes"}
    for name, trial in try_install(commands, folder):
        try:
            trial()
            results[name] = "yes"
        except (TrialError, OSError, ValueError) as error:
            results[name] = _cut(str(error) or repr(error))
    return results


def _cut(text: str) -> str:
    """Return the last lines of a failure, without pip's warnings."""
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("WARNING")]
    return "\n".join(lines[-_LAST_LINES:])


def main(wanted: list[str]) -> int:
    """Try every combination and print the table; return 1 if anything failed."""
    pythons = {name: path for name, path in find_pythons().items() if not wanted or name in wanted}
    failures: list[str] = []
    columns = ["install", "lesson", *(f"listen {kind}" for kind in TAKES), "serve", "extras"]
    print("  ".join(["Python", "versions", *columns]), flush=True)
    with tempfile.TemporaryDirectory(prefix="fillwright-install-") as name:
        wheel = build_wheel(Path(sys.executable), Path(name))
        for python, interpreter in pythons.items():
            for versions in (NEWEST, LOWEST):
                folder = Path(name) / f"{python}-{versions}"
                folder.mkdir()
                results = check(wheel, python, interpreter, versions, folder)
                cells = ["yes" if results.get(column) == "yes" else "NO" for column in columns]
                padded = [cell.ljust(len(column)) for cell, column in zip(cells, columns, strict=True)]
                print("  ".join([f"{python:<6}", f"{versions:<8}", *padded]), flush=True)
                failures += [
                    f"\nPython {python}, {versions}, {column}:\n{text}"
                    for column, text in results.items()
                    if text != "yes"
                ]
    print("\n".join(failures))
    return 1 if failures or not pythons else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
