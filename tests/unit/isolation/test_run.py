"""Work in a process of its own: answers, errors, limits of time and memory, and no process left over."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fillwright.errors import FillwrightError, TakeError
from fillwright.isolation.run import IsolatedError, run_isolated

WORK = """
import ctypes, os, time
from fillwright.errors import TakeError

def echo(content): return content
def refuse(sentence): raise TakeError(sentence)
def fail(): raise KeyError("a mistake of ours")
def sleep(path=None):
    if path: open(path, "w").write(str(os.getpid()))
    time.sleep(60)
    return b""
def spin():
    while True: pass
def fill_memory(): return bytes(2_000_000_000)
def crash(): ctypes.string_at(0)
def chatter():
    os.write(1, b"noise"); os.write(2, b"noise")
    return b"quiet"
"""

PARENT = """
import sys
sys.path.insert(0, sys.argv[1])
import isolated_work
from fillwright.isolation.run import run_isolated
if __name__ == "__main__":
    run_isolated(isolated_work.sleep, sys.argv[2], seconds=60, megabytes=300)
"""


@pytest.fixture
def work(tmp_path, monkeypatch):
    """A module that another process can import."""
    (tmp_path / "isolated_work.py").write_text(WORK)
    monkeypatch.syspath_prepend(str(tmp_path))
    import isolated_work  # noqa: PLC0415 - it was written just now

    yield isolated_work
    del sys.modules["isolated_work"]


def run(function, *arguments, seconds=30.0, **settings):
    return run_isolated(function, *arguments, seconds=seconds, megabytes=300, subject='"a.mid"', **settings)


@pytest.mark.parametrize("method", ["spawn", None])
def test_bytes_come_back(work, method):
    assert run(work.echo, b"x" * 3_000_000, start_method=method) == b"x" * 3_000_000


def test_a_second_piece_of_work_starts_within_half_a_second(work):
    run(work.echo, b"")
    fastest = 9.0
    for _ in range(5):
        start = time.monotonic()
        run(work.echo, b"")
        fastest = min(fastest, time.monotonic() - start)
    assert fastest < 0.5


def test_an_error_for_the_user_keeps_its_class_and_sentence(work):
    with pytest.raises(TakeError, match=r"^It holds no sound.$"):
        run(work.refuse, "It holds no sound.")


def test_a_mistake_of_ours_comes_with_its_traceback(work):
    with pytest.raises(IsolatedError, match=r"in fail[\s\S]*a mistake of ours"):
        run(work.fail)


@pytest.mark.parametrize("name", ["sleep", "spin"])
def test_work_that_does_not_end_is_ended(work, name):
    start = time.monotonic()
    with pytest.raises(
        FillwrightError, match=r'^"a.mid" takes longer than 1 seconds to work on; use a shorter'
    ):
        run(getattr(work, name), seconds=1.0)
    assert time.monotonic() - start < 5


def test_work_that_fills_the_memory_is_ended(work):
    with pytest.raises(
        FillwrightError, match=r'^"a.mid" needs more than 300 MB of memory; use a shorter one.$'
    ):
        run(work.fill_memory)


def test_a_crash_in_a_library_is_one_sentence(work):
    with pytest.raises(FillwrightError, match=r'^"a.mid" is damaged, or too large to work on'):
        run(work.crash)


def test_what_a_library_prints_is_discarded(work, capfd):
    assert run(work.chatter) == b"quiet"
    assert capfd.readouterr() == ("", "")


def is_running(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="needs /proc")
@pytest.mark.parametrize("ending", [signal.SIGKILL, signal.SIGTERM])
def test_no_process_is_left_when_the_parent_is_killed(work, tmp_path, ending):
    script, note = tmp_path / "parent.py", tmp_path / "pid"
    script.write_text(PARENT)
    with subprocess.Popen([sys.executable, str(script), str(tmp_path), str(note)]) as parent:
        until = time.monotonic() + 30
        while not (note.exists() and note.read_text()) and time.monotonic() < until:
            time.sleep(0.05)
        child = int(note.read_text())
        assert is_running(child)
        os.kill(parent.pid, ending)
        parent.wait()
    until = time.monotonic() + 10
    while is_running(child) and time.monotonic() < until:
        time.sleep(0.05)
    assert not is_running(child)
