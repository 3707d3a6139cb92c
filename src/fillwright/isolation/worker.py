"""The process that works on a stranger's file: limited first, then one function, then one answer in bytes."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import traceback
from collections.abc import Callable
from contextlib import suppress
from enum import Enum
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from fillwright.errors import FillwrightError

Work = Callable[..., bytes]
"""A function that can be imported by its name and returns bytes."""

_NICE = 10  # added to the niceness, so that a server that waits keeps answering others; ours
_SPARE_SECONDS = 5  # of processor time beyond the clock's limit, which the parent keeps; ours
_MEGABYTE = 1 << 20  # bytes
_KILOBYTE = 1 << 10  # bytes, as Linux counts them in /proc


class WorkOutcome(Enum):
    """First byte of an answer: how the work ended."""

    DONE = b"d"  # followed by what the function returned
    REFUSED = b"r"  # followed by the class and the sentence of a FillwrightError
    TOO_LARGE = b"m"  # it ran out of memory
    FAILED = b"f"  # followed by a traceback


def answer(work: Work, arguments: tuple[Any, ...], answers: Connection, seconds: float, megabytes: int) -> None:
    """Work within limits, and send one answer.

    Args:
        work: function to call.
        arguments: its arguments.
        answers: end of a pipe to send the answer to.
        seconds: on the clock; as many of processor time on each core, and a few more, end the process itself.
        megabytes: memory that may be used beyond what the process has at its start.
    """
    _leave_group()
    _discard_output()
    threading.Thread(target=_follow_parent, daemon=True).start()
    _limit_resources(seconds, megabytes)
    answers.send_bytes(_work(work, arguments))


def _work(work: Work, arguments: tuple[Any, ...]) -> bytes:
    try:
        return WorkOutcome.DONE.value + work(*arguments)
    except FillwrightError as error:
        return WorkOutcome.REFUSED.value + f"{type(error).__name__}\n{error}".encode("utf-8", "replace")
    except MemoryError:
        return WorkOutcome.TOO_LARGE.value
    except Exception:
        return WorkOutcome.FAILED.value + traceback.format_exc().encode("utf-8", "replace")


def _leave_group() -> None:
    """Begin a process group of its own, so that Ctrl-C stops the parent alone, which then ends the group."""
    with suppress(OSError, AttributeError):
        os.setsid()
    with suppress(OSError, AttributeError):
        os.nice(_NICE)


def _discard_output() -> None:
    """Send everything that a library prints nowhere: an answer has its own pipe."""
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        with suppress(OSError, ValueError, AttributeError):
            os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def _follow_parent() -> None:
    """Wait until the parent has ended, then end: no one is left to answer."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        with suppress(OSError, AttributeError):
            os.killpg(0, signal.SIGKILL)
        os._exit(1)


def _limit_resources(seconds: float, megabytes: int) -> None:
    if sys.platform == "win32":  # it has no such limits; the clock of the parent still holds
        return
    cores = os.cpu_count() or 1
    _lower("RLIMIT_CPU", round(seconds * cores) + _SPARE_SECONDS)
    _lower("RLIMIT_CORE", 0)
    _lower("RLIMIT_DATA", _measure_data() + megabytes * _MEGABYTE)


def _lower(name: str, most: int) -> None:
    """Lower a limit of `resource`; one that is lower already stays."""
    import resource  # noqa: PLC0415 - not on Windows

    limit = getattr(resource, name)
    _, hard = resource.getrlimit(limit)
    least = most if hard == resource.RLIM_INFINITY else min(most, hard)
    with suppress(OSError, ValueError):
        resource.setrlimit(limit, (least, least))


def _measure_data() -> int:
    """Return the bytes of private memory that the process has; 0 where the system does not say."""
    with suppress(OSError, ValueError, IndexError):
        for line in Path("/proc/self/status").read_text("ascii", "replace").splitlines():
            if line.startswith("VmData:"):
                return int(line.split()[1]) * _KILOBYTE
    return 0
