"""Ctrl-C, heard wherever it falls."""

import _thread
import sys
import threading
from typing import Any

AGAIN_S = 0.01


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
