"""Ctrl-C, heard wherever it falls, and streams that are closed, full or of another encoding."""

import _thread
import contextlib
import os
import queue
import signal
import sys
import threading
import time
from collections.abc import Iterator
from types import FrameType
from typing import Any, TextIO

AGAIN_S = 0.01  # s between two looks
_SIGNALS = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]


class _Heard:
    """Whether a signal came, marked by its handler.

    Not a `threading.Event`: a second signal that falls into ``set`` would wait for ever for the first's lock.
    ``SimpleQueue.put`` is documented as safe there.
    """

    def __init__(self) -> None:
        self._marks: queue.SimpleQueue[None] = queue.SimpleQueue()

    def set(self) -> None:
        self._marks.put(None)

    def is_set(self) -> bool:
        return not self._marks.empty()


_HEARD = _Heard()


def heard_everywhere() -> None:
    """Let an interruption that falls where none can be raised come again a moment later.

    Python says of one that falls into a destructor or a weak reference's callback that it is ignored,
    with a traceback, and goes on.
    """
    sys.unraisablehook = _again


def _again(told: Any) -> None:
    if told.exc_type is KeyboardInterrupt:
        _thread.start_new_thread(_interrupt_soon, ())
    else:
        sys.__unraisablehook__(told)


def _interrupt_soon() -> None:
    time.sleep(AGAIN_S)
    _thread.interrupt_main()


def interrupted_by(*names: str) -> None:
    """Let signals interrupt this process, and remember that one came.

    A library that is being loaded may turn an interruption into an error of its own; `was_interrupted` tells.

    Parameters
    ----------
    *names : str
        Such as ``"SIGINT"``; those that the system does not have are passed over.
    """
    for name in names:
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), _interrupt)


def _interrupt(number: int, frame: FrameType | None) -> None:
    """Raise an interruption, or a moment later where none may be raised: in our hook itself."""
    _HEARD.set()
    while frame is not None:
        if frame.f_code is _again.__code__:
            _thread.start_new_thread(_interrupt_soon, ())
            return
        frame = frame.f_back
    raise KeyboardInterrupt


def was_interrupted() -> bool:
    """Return whether a signal of `interrupted_by` came.

    Returns
    -------
    bool
    """
    return _HEARD.is_set()


@contextlib.contextmanager
def undisturbed() -> Iterator[None]:
    """Hold an interruption back until this is over: files are changing places.

    Yields
    ------
    None
        Signals that come meanwhile are raised afterwards.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []

    def later(number: int, frame: FrameType | None) -> None:
        came.append(number)

    before = {number: signal.signal(number, later) for number in _SIGNALS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler if handler is not None else signal.SIG_DFL)
        if came:
            signal.raise_signal(came[0])


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
    """Let a stream that takes nothing more lead nowhere, so that nothing is said of it at the end.

    Parameters
    ----------
    stream : TextIO
        Such as `sys.stdout` of a pipe whose reader has gone.
    """
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def flush_streams() -> bool:
    """Put out what was printed; say whether all of it could be.

    Returns
    -------
    bool
        False where one of them was closed, or its disk was full.
    """
    whole = True
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            silence(stream)
            whole = False
    return whole
