"""One long piece of work in a thread: how far it is, what it found, how long it takes yet, stopping it."""

from __future__ import annotations

import sys
import threading
import time
import traceback
from collections.abc import Callable
from typing import Any, Generic, Literal, TypeVar

from trackspread.errors import Cancelled, TrackspreadError
from trackspread.system.progress import Progress

State = Literal["running", "done", "cancelled", "failed"]
Result = TypeVar("Result")

_TELLING_SHARE = 0.05  # share of the work before the time that is left can be told
_TELLING_S = 1.0  # s before the time that is left can be told


class Job(Generic[Result]):
    """Work that runs from the moment it is made; read `state` first, then `result` or `error`.

    `shown` is what there is so far, `steps` how often it has changed.

    Parameters
    ----------
    kind : str
        What the page calls it.
    work : callable
        Gets a `Progress`, which raises `Cancelled` once the job is to stop, and a callable that shows what
        there is before the end; returns the result.
    """

    def __init__(self, kind: str, work: Callable[[Progress, Callable[[Result], None]], Result]) -> None:
        self.kind = kind
        self.state: State = "running"
        self.phase = ""
        self.share = 0.0
        self.error = ""
        self.result: Result | None = None
        self.shown: Result | None = None
        self.steps = 0
        self._work = work
        self._stop = threading.Event()
        self._since_s = time.monotonic()
        self._thread = threading.Thread(target=self._run, name=f"job {kind}", daemon=True)
        self._thread.start()

    @property
    def running(self) -> bool:
        """Whether it is still at work."""
        return self.state == "running"

    @property
    def seconds_left(self) -> float | None:
        """Seconds left at the pace so far; ``None`` while it is too early to tell."""
        gone_s = time.monotonic() - self._since_s
        if not self.running or self.share < _TELLING_SHARE or gone_s < _TELLING_S:
            return None
        return gone_s * (1 - self.share) / self.share

    def told(self) -> dict[str, Any]:
        """Return how it stands, for the page.

        Returns
        -------
        dict
        """
        return {
            "kind": self.kind,
            "state": self.state,
            "phase": self.phase,
            "share": self.share,
            "seconds_left": self.seconds_left,
            "error": self.error,
        }

    def cancel(self, wait_s: float = 0.0) -> None:
        """Ask it to stop at its next step, and wait for that.

        Parameters
        ----------
        wait_s : float
            Seconds to wait at most.
        """
        self._stop.set()
        self._thread.join(wait_s)

    def _progress(self, phase: str, share: float) -> None:
        if self._stop.is_set():
            raise Cancelled("stopped on request")
        self.phase = phase
        self.share = min(max(self.share, share), 1.0)

    def _show(self, result: Result) -> None:
        self.shown = result
        self.steps += 1

    def _run(self) -> None:
        try:
            self.result = self._work(self._progress, self._show)
            self._show(self.result)
            self.state = "done"
        except Cancelled:
            self.shown = None
            self.state = "cancelled"
        except TrackspreadError as error:
            self._fail(str(error))
        except OSError as error:
            self._fail(f"The system refused: {error.strerror or error}.")
        except MemoryError:
            self._fail("The memory of this machine is not enough; analyse fewer traces at once.")
        except Exception as error:
            traceback.print_exc(file=sys.stderr)
            self._fail(f"A fault in trackspread itself ({type(error).__name__}); its terminal says where.")

    def _fail(self, text: str) -> None:
        self.error = text
        self.shown = None
        self.state = "failed"
