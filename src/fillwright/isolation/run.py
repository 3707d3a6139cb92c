"""Work on a stranger's file in a process of its own, with limits of memory and time.

A damaged file may crash a library written in C, fill the memory or never end. Here that ends one process, and
the caller gets one sentence.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
import threading
from collections.abc import Sequence
from contextlib import suppress
from multiprocessing.connection import Connection
from multiprocessing.context import BaseContext
from multiprocessing.process import BaseProcess
from typing import Any

from fillwright.budget import format_seconds
from fillwright.errors import (
    CountError,
    FillwrightError,
    FitError,
    NotationError,
    OutputError,
    SoundsError,
    SpanError,
    StickingError,
    StoreError,
    TakeError,
    TempoError,
)
from fillwright.isolation.worker import Work, WorkOutcome, answer

_LOG = logging.getLogger("fillwright.isolation")

_PLAIN_ERRORS = (
    CountError,
    FitError,
    NotationError,
    OutputError,
    SoundsError,
    SpanError,
    StickingError,
    StoreError,
    TakeError,
    TempoError,
)
"""Classes that are made of one sentence."""

_END_SECONDS = 5.0  # for a process to end once it has answered; ours
_LOOK_SECONDS = 0.1  # between two looks whether work is stopped; ours


class IsolatedError(RuntimeError):
    """A mistake of ours in the other process; its text is the traceback."""


def prepare_isolation(modules: Sequence[str]) -> None:
    """Start the process that others are copied from, with modules loaded, so that work starts at once.

    A server calls it once at its start. Without it the first work waits for the imports.

    Args:
        modules: full names, such as "fillwright.take.take".
    """
    context = _choose_context()
    if context.get_start_method() == "forkserver":
        from multiprocessing import forkserver  # noqa: PLC0415 - not on every system

        context.set_forkserver_preload([answer.__module__, *modules])
        forkserver.ensure_running()


def run_isolated(
    work: Work,
    *arguments: Any,
    seconds: float,
    megabytes: int,
    subject: str = "This file",
    stop: threading.Event | None = None,
    start_method: str | None = None,
) -> bytes:
    """Call a function in another process and return the bytes that it returns.

    The process is ended past a limit, and if this one ends. What a library prints there is discarded.

    Args:
        work: a function of a module that can be imported; it returns bytes.
        arguments: values that can be pickled, such as paths and texts.
        seconds: on the clock, from the start of the process.
        megabytes: memory beyond what a new process has.
        subject: what is worked on; begins the sentence about a limit.
        stop: ends the work once somebody sets it.
        start_method: of `multiprocessing`; the safest there is by default.

    Raises:
        FillwrightError: the function's own, of the same class, or one sentence about the limit or the stop.
        IsolatedError: for any other exception of the function, with its traceback.
    """
    context = multiprocessing.get_context(start_method) if start_method else _choose_context()
    receiver, sender = context.Pipe(duplex=False)
    process = context.Process(  # type: ignore[attr-defined]
        target=answer, args=(work, arguments, sender, seconds, megabytes), daemon=True
    )
    late = threading.Event()
    with receiver:
        with sender:
            process.start()
        clock = threading.Timer(seconds, _end_late, (process, late))
        clock.daemon = True
        clock.start()
        try:
            _wait_for_answer(receiver, process, stop)
            content = receiver.recv_bytes()
        except (EOFError, OSError):
            content = b""
        finally:
            clock.cancel()
            _end(process, _END_SECONDS if not late.is_set() else 0.0)
    if stop is not None and stop.is_set():
        raise FillwrightError(f"{subject} was cancelled.")
    return _read_answer(content, subject, seconds, megabytes, late=late.is_set(), process=process)


def _choose_context() -> BaseContext:
    """Return the way to start a process: copied from a small one where that works, else new."""
    methods = multiprocessing.get_all_start_methods()
    return multiprocessing.get_context("forkserver" if "forkserver" in methods else "spawn")


def _wait_for_answer(receiver: Connection, process: BaseProcess, stop: threading.Event | None) -> None:
    """Wait until there is an answer, or end the process once the work is stopped."""
    while stop is not None and not receiver.poll(_LOOK_SECONDS):
        if stop.is_set():
            _kill(process)
            return


def _end_late(process: BaseProcess, late: threading.Event) -> None:
    late.set()
    _kill(process)


def _end(process: BaseProcess, patience: float) -> None:
    """Wait a little for a process, then end it with everything that it started."""
    process.join(patience)
    if process.is_alive():
        _kill(process)
        process.join()


def _kill(process: BaseProcess) -> None:
    with suppress(OSError, AttributeError):
        if process.pid is not None:
            os.killpg(process.pid, signal.SIGKILL)
    with suppress(OSError, ValueError):
        process.kill()


def _read_answer(
    content: bytes, subject: str, seconds: float, megabytes: int, *, late: bool, process: BaseProcess
) -> bytes:
    tag, rest = content[:1], content[1:]
    if tag == WorkOutcome.DONE.value:
        return rest
    if tag == WorkOutcome.REFUSED.value:
        name, _, sentence = rest.decode("utf-8").partition("\n")
        raise _find_class(name)(sentence)
    if tag == WorkOutcome.FAILED.value:
        raise IsolatedError(rest.decode("utf-8"))
    if late or process.exitcode == -getattr(signal, "SIGXCPU", 0):
        raise FillwrightError(
            f"{subject} takes longer than {format_seconds(seconds)} to work on; use a shorter one."
        )
    if tag == WorkOutcome.TOO_LARGE.value:
        raise FillwrightError(f"{subject} needs more than {megabytes:,} MB of memory; use a shorter one.")
    _LOG.warning("work on %s ended with status %s", subject, process.exitcode)
    raise FillwrightError(
        f"{subject} is damaged, or too large to work on: reading it ended without a result; use another one."
    )


def _find_class(name: str) -> type[FillwrightError]:
    """Return the class of an error by its name; the general one where it needs more than a sentence."""
    return next((kind for kind in _PLAIN_ERRORS if kind.__name__ == name), FillwrightError)
