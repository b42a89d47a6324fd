"""Interrupts: Ctrl-C ends a command at once, and nothing is told of what it left half done."""

from __future__ import annotations

import _thread
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any, Final

TERMINATED: Final = 128 + signal.SIGTERM
"""Exit code after SIGTERM, as shells have it."""

AGAIN_S: Final = 0.01
"""Seconds after which an interrupt that was ignored comes again."""

_seen = threading.Event()


@contextmanager
def interruptible() -> Iterator[None]:
    """Let Ctrl-C and SIGTERM end what runs within; SIGTERM as a plain exit, so that it cleans up.

    A library that runs our functions may take the KeyboardInterrupt for a fault of the documents
    (pydantic does): :func:`stop_if_interrupted` tells it from one. Python itself makes a
    RuntimeError of one that comes while a class is made (CPython 3.11, ``type_new_set_names``):
    :func:`was_interrupted` tells that.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    _seen.clear()
    before = signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGTERM), sys.unraisablehook
    if before[0] is signal.default_int_handler:
        signal.signal(signal.SIGINT, _interrupted)
    if before[1] is signal.SIG_DFL:
        signal.signal(signal.SIGTERM, _terminated)
    sys.unraisablehook = _quiet
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before[0])
        signal.signal(signal.SIGTERM, before[1])
        sys.unraisablehook = before[2]


def was_interrupted() -> bool:
    """Return whether an interrupt came, whatever became of it."""
    return _seen.is_set()


def stop_if_interrupted() -> None:
    """Raise KeyboardInterrupt again where one was raised and lost."""
    if was_interrupted():
        raise KeyboardInterrupt


def _interrupted(_number: int, _frame: FrameType | None) -> None:
    _seen.set()
    raise KeyboardInterrupt


def _terminated(_number: int, _frame: FrameType | None) -> None:
    sys.exit(TERMINATED)


def _quiet(unraisable: Any) -> None:
    """Say nothing of an interrupt that was ignored where it came; it comes again in a moment.

    In a finalizer, say, nobody can be interrupted.
    """
    if not isinstance(unraisable.exc_value, KeyboardInterrupt):
        sys.__unraisablehook__(unraisable)
        return
    again = threading.Timer(AGAIN_S, _thread.interrupt_main)
    again.daemon = True
    again.start()
