"""Ctrl-C, heard wherever it falls, and streams that are closed, full or of another encoding."""

import _thread
import contextlib
import os
import signal
import sys
import threading
from types import FrameType
from typing import Any, TextIO

AGAIN_S = 0.01
_HEARD = threading.Event()


def heard_everywhere() -> None:
    """Let an interruption that falls where none can be raised come again a moment later.

    Python says of one that falls into a destructor or a weak reference's callback that it is ignored,
    with a traceback, and goes on.
    """
    sys.unraisablehook = _again


def _again(told: Any) -> None:
    if told.exc_type is not KeyboardInterrupt:
        sys.__unraisablehook__(told)
        return
    timer = threading.Timer(AGAIN_S, _thread.interrupt_main)
    timer.daemon = True
    timer.start()


def interrupted_by(*names: str) -> None:
    """Let signals interrupt this process, and remember that one came.

    A library that is being loaded may turn an interruption into an error of its own; `was_interrupted` tells.
    """
    for name in names:
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), _interrupt)


def _interrupt(number: int, frame: FrameType | None) -> None:
    _HEARD.set()
    raise KeyboardInterrupt


def was_interrupted() -> bool:
    """Whether a signal of `interrupted_by` came."""
    return _HEARD.is_set()


def open_streams() -> None:
    """Give the process its three streams where it was started without, and let none fail for a letter.

    A file opened later would else get the number of the stream, and be written to by whatever prints.
    """
    for number, name, mode in ((0, "stdin", "r"), (1, "stdout", "w"), (2, "stderr", "w")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(number, mode, encoding="utf-8", closefd=False))
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def silence(stream: TextIO) -> None:
    """Let a stream that takes nothing more lead nowhere, so that nothing is said of it at the end."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def flush_streams() -> bool:
    """Put out what was printed; say whether all of it could be."""
    whole = True
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            silence(stream)
            whole = False
    return whole
