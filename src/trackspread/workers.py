"""Worker processes that end with the run: without a word when it is interrupted, and when it is killed."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import suppress
from multiprocessing import active_children, get_context, parent_process
from types import FrameType
from typing import Any, TypeVar

from trackspread.interruption import heard_everywhere

Result = TypeVar("Result")


class Workers(ProcessPoolExecutor):
    """A pool of fresh processes."""

    def __init__(self, workers: int) -> None:
        self._elsewhere = set(active_children())
        super().__init__(workers, mp_context=get_context("spawn"), initializer=_prepare)

    def submit(self, fn: Callable[..., Result], /, *args: Any, **kwargs: Any) -> Future[Result]:
        """Do a piece of work in one of the processes."""
        return super().submit(interruptible, fn, *args, **kwargs)

    def __exit__(self, kind: type[BaseException] | None, error: Any, trace: Any) -> bool | None:
        """Wait for the work to end; after an error it is interrupted first."""
        if kind is not None:
            self.shutdown(wait=False, cancel_futures=True)
            for child in set(active_children()) - self._elsewhere:
                if child.pid is not None:
                    with suppress(ProcessLookupError):
                        os.kill(child.pid, signal.SIGINT)
        return super().__exit__(kind, error, trace)


def interruptible(work: Callable[..., Result], /, *args: Any, **kwargs: Any) -> Result:
    """Do a piece of work in a worker: an interruption ends it, and between two it is passed over."""
    before = signal.signal(signal.SIGINT, _interrupt)
    try:
        return work(*args, **kwargs)
    finally:
        signal.signal(signal.SIGINT, before)


def _interrupt(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _prepare() -> None:
    """Leave an interruption between two pieces of work to the run that all workers belong to."""
    heard_everywhere()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
