"""One piece of work in a process of its own, which can be ended at any moment, whatever it is doing."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Sequence
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Any, TypeVar, cast

from trackspread.errors import TrackspreadError
from trackspread.system.progress import Progress
from trackspread.system.workers import end_with_parent, load

Result = TypeVar("Result")
PACE_S = 0.1
"""An interruption is heard after so long at the latest."""
LOST = (
    "the process that did this was ended by the system, most likely for want of memory; take fewer or "
    "smaller files at once"
)


class Child:
    """A process that loads ``modules``, waits for one piece of work, and ends with it or with its parent.

    Parameters
    ----------
    modules : sequence of str
        What the work needs; it is loaded while nothing is asked for yet.
    """

    def __init__(self, modules: Sequence[str] = ()) -> None:
        context = get_context("spawn")
        self._here, there = context.Pipe()
        self._process = context.Process(target=_live, args=(there, tuple(modules)))
        self._process.start()
        there.close()

    def do(self, work: Callable[..., Result], *args: Any, progress: Progress) -> Result:
        """Return what ``work(*args, progress)`` returns there; the child has ended afterwards.

        ``progress`` is told what the child tells, and is asked every `PACE_S` seconds besides: what it raises
        ends the child at once.

        Raises
        ------
        TrackspreadError
            The child was ended from outside. What the work itself raises is raised here.
        """
        phase, share = "", 0.0
        try:
            self._here.send((work, args))
            while True:
                if self._here.poll(PACE_S):
                    kind, value = self._here.recv()
                    if kind == "done":
                        return cast("Result", value)
                    if kind == "raised":
                        raise value
                    phase, share = value
                progress(phase, share)
        except (EOFError, ConnectionError) as error:
            raise TrackspreadError(LOST) from error
        finally:
            self.end()

    def end(self) -> None:
        """End the process, at once."""
        self._process.kill()
        self._process.join()
        self._here.close()


def _live(parent: Connection, modules: Sequence[str]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent hears it, and ends this process
    end_with_parent()
    load(*modules)
    try:
        work, args = parent.recv()
        parent.send(_done(work, args, lambda phase, share: parent.send(("told", (phase, share)))))
    except (EOFError, OSError):
        os._exit(1)


def _done(work: Callable[..., Any], args: Sequence[Any], tell: Progress) -> tuple[str, Any]:
    try:
        return "done", work(*args, tell)
    except Exception as error:
        return "raised", error
