"""One session of the drop page: what was dropped, what was read of it, one job at a time, one result."""

from __future__ import annotations

import shutil
import threading
from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from starlette.responses import FileResponse

from trackspread.errors import TrackspreadError, printable
from trackspread.options import Options
from trackspread.system.child import Child
from trackspread.system.extras import how_to_get
from trackspread.system.progress import Progress
from trackspread.system.workers import load
from trackspread.web import rows, settings
from trackspread.web.clock import Clock
from trackspread.web.job import Job
from trackspread.web.outcome import Outcome, can_draw, run, shared
from trackspread.web.reading import COLUMNS, Reading, assigned, read_folder
from trackspread.web.results import ZIP_NAME
from trackspread.web.store import Dropped, Limits, Store

_UNDO_STEPS = 100  # corrections that can be taken back
_READS_WITH = ("trackspread.web.reading",)
_LEAVES_S = 0.3
"""Libraries that load are not waited for any longer when the session ends."""
_RUNS_WITH = (
    "numpy", "trackspread.pipeline.analyse", "trackspread.report.route_map", "trackspread.report.page",
    "trackspread.results.layers",
)  # fmt: skip
_DRAWS_WITH = ("trackspread.report.drawing", "trackspread.film.write")


class SessionRefused(TrackspreadError):
    """The session cannot do that now; ``status`` is the HTTP status that says so (RFC 9110)."""

    def __init__(self, text: str, status: int = 400) -> None:
        super().__init__(text)
        self.status = status


class Session:
    """All that one page can do; jobs run in a thread, everything else in the thread of the server.

    While a job runs, whatever would change something under it raises `SessionRefused`.

    Parameters
    ----------
    folder : Path
        Private folder; traces, rides.csv and result stay below it.
    limits : Limits
        How much is taken.
    kept : bool
        Whether the folder stays after the session; the page says so.
    """

    def __init__(self, folder: Path, limits: Limits, *, kept: bool = False) -> None:
        self.store = Store(folder / "traces", limits)
        self._result_folder = folder / "result"
        self._kept = kept
        self._clock: Clock | None = None
        self._edits: dict[str, dict[str, str]] = {}
        self._undo: list[dict[str, dict[str, str]]] = []
        self._saved = False
        self._stale = False
        self._reader: Child | None = None
        self._read: Job[Reading] | None = None
        self._corrected: Reading | None = None
        self._run: Job[Outcome] | None = None
        self._share: Job[Outcome] | None = None
        self._latest: Job[Any] | None = None
        self._loading: threading.Thread | None = None
        self._closing = False

    # --- what there is -------------------------------------------------------------------------------

    def state(self) -> dict[str, Any]:
        """Return all that the page needs to know what to show; small, since it is asked for often."""
        files, job, reading = self.store.files, self._latest, self._reading
        return {
            "files": len(files),
            "bytes": sum(dropped.size for dropped in files),
            "limits": asdict(self.store.limits),
            "kept": self._kept,
            "zone": self._clock and self._clock.zone,
            "segment_m": Options().segment_m,
            "settings": settings.offered(),
            "no_stills": "" if can_draw() else f"Stills need one more library; {how_to_get('matplotlib')}",
            "job": job and job.told(),
            "traces": len(reading.witnesses) if reading else None,
            "result": self._found is not None,
            "steps": self._run.steps if self._run else 0,
            "stale": self._stale,
            "saved": self._saved,
        }

    def table(self) -> dict[str, Any]:
        """Return the rows of what was read, and a line for everything that could not be."""
        reading, clock = self._must_have_read(), self._clock or Clock()
        names = [dropped.name for dropped in self.store.files]
        return {
            "undo": len(self._undo),
            "rows": [
                {**rows.row_of(key, witness, reading, clock), "dropped": _dropped(witness.trace.file, names)}
                for key, witness in reading.keyed()
            ],
            "unread": [
                {"text": str(problem), "dropped": _dropped(problem.file, names)}
                for problem in reading.problems
            ],
        }

    def result(self) -> dict[str, Any]:
        """Return what the page says of the result, and the files to save."""
        return self._must_have_result().told()

    def result_file(self, name: str, *, save: bool) -> FileResponse | None:
        """Return a file of the result, ``None`` for anything else.

        Parameters
        ----------
        name : str
            Its path below the result.
        save : bool
            To be stored, not shown.

        Returns
        -------
        FileResponse or None
        """
        answer = self._must_have_result().results.answer(name, save)
        self._saved = self._saved or (save and name == ZIP_NAME)
        return answer

    # --- what can be done ----------------------------------------------------------------------------

    def must_be_idle(self) -> None:
        """Refuse while a job runs: nothing may change under it."""
        if self._latest and self._latest.running:
            raise SessionRefused("Wait for the work under way, or cancel it.", 409)

    async def receive(self, name: str, declared_bytes: int, chunks: AsyncIterator[bytes]) -> Dropped:
        """Keep one dropped file; what was read before no longer tells all.

        Parameters
        ----------
        name : str
            As the browser gives it; it is made harmless.
        declared_bytes : int
            0 where the browser does not say.
        chunks : async iterator of bytes

        Returns
        -------
        Dropped

        Raises
        ------
        SessionRefused
            A job runs.
        DropRefused
            Name, size or number of files is beyond the limits.
        """
        self.must_be_idle()
        self._reader = self._reader or Child(_READS_WITH)  # ready when all files are there
        dropped = await self.store.receive(name, declared_bytes, chunks)
        self._forget_reading()
        return dropped

    def remove(self, name: str | None) -> None:
        """Remove one file, or all; what was read and found with it is no longer true."""
        self.must_be_idle()
        names = [dropped.name for dropped in self.store.files] if name is None else [name]
        for each in names:
            self.store.remove(each)
        if not self.store.files:
            self._edits = {}
        self._undo = []
        self._forget_reading()

    def read(self) -> None:
        """Start reading what was dropped, in a process that can be ended in the midst of a file."""
        self.must_be_idle()
        if self.store.arriving or not self.store.files:
            raise SessionRefused("There is nothing to read yet.", 409)
        self._forget_result()
        folder, edits = self.store.folder, self._edits
        self._corrected = None
        reader, self._reader = self._reader or Child(_READS_WITH), None

        def read(progress: Progress, show: Callable[[Reading], None]) -> Reading:
            found = reader.do(read_folder, folder, edits, progress=progress)
            self._load_ahead()
            return found

        self._read = self._latest = Job("read", read)

    def choose_zone(self, zone: str) -> None:
        """Show and take times as a clock in this zone shows them.

        Raises
        ------
        BadOption
            This machine knows no such zone.
        """
        self._clock = Clock(zone)

    def _load_ahead(self) -> None:
        """Load what a run needs while people look at what was read."""
        if self._loading is None:
            self._loading = threading.Thread(target=self._load, daemon=True)
            self._loading.start()

    def _load(self) -> None:
        for module in (*_RUNS_WITH, *(_DRAWS_WITH if can_draw() else ())):
            if not self._closing:
                load(module)

    def correct(self, keys: Sequence[str], column: str, value: str) -> None:
        """Put one value into a column of some rows of rides.csv; an empty one states nothing.

        Parameters
        ----------
        keys : sequence of str
            Of the rows, as the table of rides names traces.
        column : str
            One of `COLUMNS`.
        value : str

        Raises
        ------
        SessionRefused
            There is no such cell, nothing has been read, or a job runs.
        """
        self.must_be_idle()
        reading = self._must_have_read()
        if column not in COLUMNS or not keys or not all(key in reading.stated for key in keys):
            raise SessionRefused("There is no such cell.", 404)
        text = printable(value.strip(), 200)
        if column in ("start_pressed", "fix_seen"):
            text = (self._clock or Clock()).stated(text)
        cell = {column: text}
        changed = {key: {**self._edits.get(key, {}), **cell} for key in keys}
        self._correct({**self._edits, **changed}, [*self._undo, self._edits][-_UNDO_STEPS:])

    def undo(self) -> None:
        """Take the last correction back, whether it was of one row or of many."""
        self.must_be_idle()
        self._must_have_read()
        if not self._undo:
            raise SessionRefused("There is nothing to undo.", 409)
        self._correct(self._undo[-1], self._undo[:-1])

    def _correct(self, edits: dict[str, dict[str, str]], undo: list[dict[str, dict[str, str]]]) -> None:
        reading = self._must_have_read()
        self._corrected = assigned(reading.folder, reading.read, edits)
        self._edits, self._undo, self._stale = edits, undo, True

    def run(self, values: Mapping[str, Any]) -> None:
        """Start the analysis and the writing of all that is wanted."""
        self.must_be_idle()
        if self.store.arriving:
            raise SessionRefused("Files are still arriving.", 409)
        reading = self._must_have_read()
        wanted = settings.wanted(values)
        if len(reading.witnesses) < 2:
            raise SessionRefused("Two traces are needed at least.", 409)
        self._forget_result()
        self._stale = False
        target = self._result_folder
        self._run = self._latest = Job(
            "run", lambda progress, show: run(reading, wanted, target, progress, show)
        )

    def share(self) -> None:
        """Start making a copy of the result that can be shown: with cut ends, without a second analysis."""
        self.must_be_idle()
        found = self._must_have_result()
        if found.analysis.published:
            raise SessionRefused("The ends of this result are cut already.", 409)
        self._share = self._latest = Job("share", lambda progress, show: shared(found, progress))

    def cancel(self) -> None:
        """Ask the job under way to stop."""
        if self._latest:
            self._latest.cancel()

    def close(self, wait_s: float) -> None:
        """Stop the job under way and wait for it at most ``wait_s``."""
        self._closing = True
        if self._reader:
            self._reader.end()
        if self._latest:
            self._latest.cancel(wait_s)
        if self._loading:
            self._loading.join(min(wait_s, _LEAVES_S))

    # --- inside --------------------------------------------------------------------------------------

    @property
    def _reading(self) -> Reading | None:
        return self._corrected or (self._read.result if self._read else None)

    @property
    def _found(self) -> Outcome | None:
        of_copy = self._share.shown if self._share else None
        return of_copy or (self._run.shown if self._run else None)

    def _must_have_read(self) -> Reading:
        if not self._reading:
            raise SessionRefused("Nothing has been read yet.", 409)
        return self._reading

    def _must_have_result(self) -> Outcome:
        if not self._found:
            raise SessionRefused("There is no result yet.", 404)
        return self._found

    def _forget_reading(self) -> None:
        self._read = self._corrected = self._latest = None
        self._forget_result()

    def _forget_result(self) -> None:
        self._run = self._share = None
        self._saved = False
        shutil.rmtree(self._result_folder, ignore_errors=True)


def _dropped(name: str, names: list[str]) -> str:
    """Return the dropped file that holds the trace ``name``: itself, or its archive; else ``""``."""
    return next((each for each in names if name == each or name.startswith(f"{each}/")), "")
