"""Work that is killed -9 at one of its steps: every change of a file or folder, lock and flush counts."""

from __future__ import annotations

import os
import signal
import sys
import warnings
from collections.abc import Callable
from typing import Any

from fillwright.atomic import exchange

_CHANGES = frozenset(
    "os.rename os.link os.symlink os.mkdir os.rmdir os.remove os.chmod os.utime os.truncate fcntl.flock".split()
)
"""Events of Python that announce a change or a lock (PEP 578)."""

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC


def run_to_step(work: Callable[[], object], step: int) -> bool:
    """Do work in a process of its own that is killed before its step of that number, from 1.

    Returns:
        True if it was killed, False if it had fewer steps and ended well.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # forks beside threads: the child starts none
        child = os.fork()
    if child == 0:
        try:
            _count_steps(step)
            work()
            os._exit(0)
        except BaseException as error:
            os.write(2, f"{error!r}\n".encode())
            os._exit(1)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        return True
    assert os.WEXITSTATUS(status) == 0
    return False


def _count_steps(step: int) -> None:
    """Kill this process at a step from now on; there is no way back."""
    done = 0

    def count() -> None:
        nonlocal done
        done += 1
        if done == step:
            os.kill(os.getpid(), signal.SIGKILL)

    def audit(event: str, args: tuple[Any, ...]) -> None:
        if event in _CHANGES or (event == "open" and isinstance(args[2], int) and args[2] & _WRITING):
            count()

    def wrap(work: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*args: Any) -> Any:
            count()
            return work(*args)

        return counted

    os.fsync = wrap(os.fsync)
    os.write = wrap(os.write)
    exchange._swap_names = wrap(exchange._swap_names)
    sys.addaudithook(audit)
