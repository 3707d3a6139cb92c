"""Measure how the code is named and described, and fail where it falls short: `python tools/check_names.py`.

Give package folders to list every place there instead: `python tools/check_names.py src/fillwright/listen`.
"""

from __future__ import annotations

import ast
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "fillwright"
WORDS = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))

VERBS = frozenset(" ".join(WORDS["verbs"]).split())
VAGUE = frozenset(" ".join(WORDS["vague"]).split())
IRREGULAR = frozenset(" ".join(WORDS["participles"]).split())
LIBRARY_NAMES = frozenset(WORDS["library_names"])
NOT_PARTICIPLES = frozenset(" ".join(WORDS["not_participles"]).split())

LEAST_IMPERATIVE = 0.95  # share of function docstrings that open with a verb; ours
MOST_VAGUE_PER_1000 = 3.0  # vague names among a thousand bound names; ours
MOST_MODULES = 15  # in one package, without `__init__`; ours
MOST_MEDIAN_LINES = 130  # of a module; ours

Function = ast.FunctionDef | ast.AsyncFunctionDef


@dataclass(frozen=True, slots=True)
class Finding:
    """One place that falls short: the measure, the file, the line and the name or text."""

    measure: str
    path: Path
    line: int
    text: str

    def __str__(self) -> str:
        return f"{self.path.relative_to(ROOT)}:{self.line}: {self.measure}: {self.text}"


def is_property(node: Function) -> bool:
    """Return True for a function that reads as a value: a property or a pytest fixture."""
    for decorator in node.decorator_list:
        text = ast.unparse(decorator)
        if "property" in text or "fixture" in text or text.endswith(".setter"):
            return True
    return False


def functions(tree: ast.Module) -> Iterator[Function]:
    """Yield every function and method of a module, nested ones included."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def opens_with_verb(text: str) -> bool:
    """Return True if the first word of a docstring is one of the listed imperative verbs."""
    words = text.split()
    return bool(words) and words[0].strip("`.,:;\"'").lower() in VERBS


def is_participle(name: str) -> bool:
    """Return True if a function's name opens or closes with a past participle and has no verb before it."""
    words = [word for word in name.strip("_").split("_") if word]
    if not words or words[0] in VERBS or words[0] in ("is", "has", "was", "are", "can", "may", "as", "to"):
        return False
    return any(_participle(word) for word in (words[0], words[-1]))


def _participle(word: str) -> bool:
    return word in IRREGULAR or (word.endswith("ed") and len(word) > 4 and word not in NOT_PARTICIPLES)


def bound_names(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Yield the line and name of everything that a module binds: functions, classes, parameters, variables."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            yield node.lineno, node.name
        elif isinstance(node, ast.arg):
            yield node.lineno, node.arg
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.lineno, node.id


def bare_numbers(tree: ast.Module, lines: list[str]) -> Iterator[tuple[int, str]]:
    """Yield the module-level assignments of numbers that no comment or docstring describes."""
    for place, node in enumerate(tree.body):
        if not isinstance(node, ast.Assign | ast.AnnAssign) or not _holds_number(node.value):
            continue
        after = tree.body[place + 1] if place + 1 < len(tree.body) else None
        documented = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        own = any("#" in line for line in lines[node.lineno - 1 : node.end_lineno])
        above = node.lineno > 1 and lines[node.lineno - 2].lstrip().startswith("#")
        if not (documented or own or above):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            yield node.lineno, ast.unparse(target)


def _holds_number(value: ast.expr | None) -> bool:
    constants = [node.value for node in ast.walk(value) if isinstance(node, ast.Constant)] if value else []
    return any(isinstance(value, int | float) and not isinstance(value, bool) for value in constants)


def inspect(path: Path, counts: Counter[str]) -> Iterator[Finding]:
    """Yield what falls short in one module and add its totals to the counts."""
    text = path.read_text("utf-8")
    tree = ast.parse(text)
    for function in functions(tree):
        described = ast.get_docstring(function)
        if described and not is_property(function):
            counts["docstrings"] += 1
            if not opens_with_verb(described):
                counts["docstrings without a verb"] += 1
                yield Finding("docstring opens without a verb", path, function.lineno, described.split("\n")[0])
        if not is_property(function) and function.name not in LIBRARY_NAMES and is_participle(function.name):
            yield Finding("function named by a participle", path, function.lineno, function.name)
    for line, name in bound_names(tree):
        counts["names"] += 1
        if name.strip("_") in VAGUE:
            counts["vague names"] += 1
            yield Finding("vague name", path, line, name)
    for line, name in bare_numbers(tree, text.split("\n")):
        yield Finding("number without a comment", path, line, name)


def repeated_classes(paths: list[Path]) -> Iterator[Finding]:
    """Yield every class whose name another module defines too."""
    seen: dict[str, Path] = {}
    for path in paths:
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                if node.name in seen:
                    text = f"{node.name}, also in {seen[node.name].relative_to(ROOT)}"
                    yield Finding("class name defined twice", path, node.lineno, text)
                seen.setdefault(node.name, path)


def crowded_packages(paths: list[Path]) -> Iterator[Finding]:
    """Yield the packages with too many modules of their own and those without a README."""
    packages = Counter(path.parent for path in paths if path.name != "__init__.py")
    for folder, number in packages.items():
        if number > MOST_MODULES:
            yield Finding("too many modules", folder, 0, f"{number} of at most {MOST_MODULES}")
        if folder != SOURCE and "migrations" not in folder.parts and not (folder / "README.md").exists():
            yield Finding("package without a README", folder, 0, folder.name)


def main(arguments: list[str]) -> int:
    """Print the measures, or every finding below the folders named; return 1 where an aim is missed."""
    paths = sorted(path for path in SOURCE.rglob("*.py") if "migrations" not in path.parts)
    counts: Counter[str] = Counter()
    findings = [finding for path in paths for finding in inspect(path, counts)]
    findings += [*repeated_classes(paths), *crowded_packages(paths)]
    if arguments:
        wanted = [Path(argument).resolve() for argument in arguments]
        shown = [f for f in findings if any(f.path.is_relative_to(folder) for folder in wanted)]
        print("\n".join(map(str, shown)))
        print(f"{len(shown)} findings")
        return bool(shown)
    return report(counts, findings, paths)


def report(counts: Counter[str], findings: list[Finding], paths: list[Path]) -> int:
    """Print one line for each measure and return 1 where an aim is missed."""
    by_measure = Counter(finding.measure for finding in findings)
    imperative = 1 - counts["docstrings without a verb"] / counts["docstrings"]
    vague = 1000 * counts["vague names"] / counts["names"]
    lines = median(len(path.read_text("utf-8").splitlines()) for path in paths if path.name != "__init__.py")
    rows = [
        ("docstrings that open with a verb", f"{imperative:.1%}", imperative >= LEAST_IMPERATIVE),
        ("vague names in a thousand", f"{vague:.1f}", vague < MOST_VAGUE_PER_1000),
        ("median lines of a module", f"{lines:g}", lines <= MOST_MEDIAN_LINES),
    ]
    exact = (
        "function named by a participle",
        "number without a comment",
        "class name defined twice",
        "too many modules",
        "package without a README",
    )
    rows += [(measure, str(by_measure[measure]), not by_measure[measure]) for measure in exact]
    for name, value, good in rows:
        print(f"{name:<36} {value:>8} {'' if good else '  falls short'}")
    missed = {name for name, _, good in rows if not good}
    print("\n".join(str(finding) for finding in findings if finding.measure in missed))
    return bool(missed)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
