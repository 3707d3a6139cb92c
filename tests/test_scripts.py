"""The scripts' own tests, run by Node without a browser: `node --test`."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.needs import need

ROOT = Path(__file__).parents[1]
NODE = shutil.which("node")
FILES = sorted((ROOT / "tests" / "js").glob("*.test.mjs"))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name.removesuffix(".test.mjs"))
def test_scripts(file):
    need(NODE, "Node.js 20 or newer, from the Debian package nodejs")
    done = subprocess.run(
        [NODE, "--test", "--test-reporter=tap", str(file)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
        cwd=ROOT,
    )
    failed = re.findall(r"^\s*not ok \d+ - (.*)$", done.stdout, re.MULTILINE)
    assert done.returncode == 0, f"failed: {', '.join(failed)}\n{done.stdout}{done.stderr}"
    passed = re.search(r"^# pass (\d+)$", done.stdout, re.MULTILINE)
    assert passed, done.stdout
    assert int(passed[1]) > 0, "a file without tests"


def test_there_are_such_tests():
    assert len(FILES) >= 8
