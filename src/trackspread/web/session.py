"""One session of the drop page: what was dropped, what was read of it, one job at a time, one result."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import AsyncIterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from starlette.responses import FileResponse

from trackspread import api
from trackspread.errors import TrackspreadError, printable
from trackspread.model import Analysis, RouteResult
from trackspread.options import Options
from trackspread.publish import cut_for_publishing
from trackspread.reports.figures import counted, kilometres, rounded, rounded_interval, with_interval
from trackspread.reports.style import VERDICT_GLYPHS
from trackspread.web import rows, settings
from trackspread.web.job import Job
from trackspread.web.phases import overall
from trackspread.web.reading import COLUMNS, Reading, assigned, read_folder
from trackspread.web.results import ZIP_NAME, Results, pack
from trackspread.web.store import Dropped, Limits, Store


class SessionRefused(TrackspreadError):
    """The session cannot do that now; ``status`` is the HTTP status that says so (RFC 9110)."""

    def __init__(self, text: str, status: int = 400) -> None:
        super().__init__(text)
        self.status = status


@dataclass(frozen=True, kw_only=True, slots=True)
class _Run:
    analysis: Analysis
    results: Results


class Session:
    """All that one page can do; jobs run in a thread, everything else in the thread of the server.

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
        self._edits: dict[str, dict[str, str]] = {}
        self._stale = False
        self._read: Job[Reading] | None = None
        self._corrected: Reading | None = None
        self._run: Job[_Run] | None = None
        self._latest: Job[Any] | None = None

    # --- what there is -------------------------------------------------------------------------------

    def state(self) -> dict[str, Any]:
        """Return all that the page needs to know what to show; small, since it is asked for often."""
        files, job, reading = self.store.files, self._latest, self._reading
        return {
            "files": len(files),
            "bytes": sum(dropped.size for dropped in files),
            "limits": asdict(self.store.limits),
            "kept": self._kept,
            "segment_m": Options().segment_m,
            "settings": settings.offered(),
            "job": job and job.told(),
            "traces": len(reading.witnesses) if reading else None,
            "result": self._finished is not None,
            "stale": self._stale,
        }

    def table(self) -> dict[str, Any]:
        """Return the rows of what was read, and a line for everything that could not be."""
        reading = self._must_have_read()
        names = [dropped.name for dropped in self.store.files]
        return {
            "rows": [
                {**rows.row_of(key, witness, reading), "dropped": _dropped(witness.trace.file, names)}
                for key, witness in reading.keyed()
            ],
            "unread": [
                {"text": str(problem), "dropped": _dropped(problem.file, names)}
                for problem in reading.problems
            ],
        }

    def result(self) -> dict[str, Any]:
        """Return the headline of each route, what was set aside, and the files to save."""
        run = self._must_have_result()
        sizes = run.results.sizes()
        return {
            "routes": [_headline(route) for route in run.analysis.routes],
            "aside": [
                printable(f"{record.file}: {record.reason}", 400)
                for record in run.analysis.inputs
                if record.status == "set aside"
            ],
            "zip": {"name": ZIP_NAME, "size": sizes.pop(ZIP_NAME)},
            "files": [{"name": name, "size": size} for name, size in sizes.items()],
        }

    def result_file(self, name: str, *, save: bool) -> FileResponse | None:
        """Return a file of the result, ``None`` for anything else."""
        return self._must_have_result().results.answer(name, save)

    # --- what can be done ----------------------------------------------------------------------------

    def must_be_idle(self) -> None:
        """Refuse while a job runs: nothing may change under it."""
        if self._latest and self._latest.running:
            raise SessionRefused("Wait for the work under way, or cancel it.", 409)

    async def receive(self, name: str, declared_bytes: int, chunks: AsyncIterator[bytes]) -> Dropped:
        """Keep one dropped file; what was read before no longer tells all."""
        self.must_be_idle()
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
        self._forget_reading()

    def read(self) -> None:
        """Start reading what was dropped."""
        self.must_be_idle()
        if self.store.arriving or not self.store.files:
            raise SessionRefused("There is nothing to read yet.", 409)
        self._forget_result()
        folder, edits = self.store.folder, self._edits
        self._corrected = None
        self._read = self._latest = Job("read", lambda progress: read_folder(folder, edits, progress))

    def correct(self, key: str, column: str, value: str) -> None:
        """Put one cell into rides.csv and look again at what follows; an empty cell states nothing."""
        self.must_be_idle()
        reading = self._must_have_read()
        if column not in COLUMNS or key not in reading.stated:
            raise SessionRefused("There is no such cell.", 404)
        cell = {column: printable(value.strip(), 200)}
        edits = {**self._edits, key: {**self._edits.get(key, {}), **cell}}
        self._corrected = assigned(reading.folder, reading.read, edits)
        self._edits = edits
        self._stale = True

    def run(self, values: Mapping[str, Any], *, publish: bool, hide_dates: bool) -> None:
        """Start the analysis; with ``publish`` both ends are cut off before anything is written."""
        self.must_be_idle()
        if self.store.arriving:
            raise SessionRefused("Files are still arriving.", 409)
        reading = self._must_have_read()
        options = settings.chosen(values)
        if len(reading.witnesses) < 2:
            raise SessionRefused("Two traces are needed at least.", 409)
        self._forget_result()
        self._stale = False
        target = self._result_folder

        def work(progress: api.Progress) -> _Run:
            tell = overall(progress)
            problems = (*reading.problems, *reading.doubts)
            analysis = api.analyse_witnesses(reading.witnesses, options, problems=problems, progress=tell)
            if publish:
                analysis = cut_for_publishing(analysis, hide_dates=hide_dates)
            try:
                written = api.write_report(analysis, target, progress=tell)
                tell("packing", 0.0)
                return _Run(analysis=analysis, results=pack(target, written))
            except BaseException:
                shutil.rmtree(target, ignore_errors=True)
                raise

        self._run = self._latest = Job("run", work)

    def cancel(self) -> None:
        """Ask the job under way to stop."""
        if self._latest:
            self._latest.cancel()

    def close(self, wait_s: float) -> None:
        """Stop the job under way and wait for it at most ``wait_s``."""
        if self._latest:
            self._latest.cancel(wait_s)

    # --- inside --------------------------------------------------------------------------------------

    @property
    def _reading(self) -> Reading | None:
        return self._corrected or (self._read.result if self._read else None)

    @property
    def _finished(self) -> _Run | None:
        return self._run.result if self._run else None

    def _must_have_read(self) -> Reading:
        if not self._reading:
            raise SessionRefused("Nothing has been read yet.", 409)
        return self._reading

    def _must_have_result(self) -> _Run:
        if not self._finished:
            raise SessionRefused("There is no result yet.", 404)
        return self._finished

    def _forget_reading(self) -> None:
        self._read = self._corrected = self._latest = None
        self._forget_result()

    def _forget_result(self) -> None:
        self._run = None
        shutil.rmtree(self._result_folder, ignore_errors=True)


def _dropped(name: str, names: list[str]) -> str:
    """Return the dropped file that holds the trace ``name``: itself, or its archive; else ``""``."""
    return next((each for each in names if name == each or name.startswith(f"{each}/")), "")


def _headline(route: RouteResult) -> dict[str, str]:
    spread = rounded_interval(route.spread.value, route.spread.low, route.spread.high)
    verdicts = Counter(segment.verdict for segment in route.segments)
    return {
        "name": printable(route.name, 120),
        "spread": with_interval(*spread, "m"),
        "of": f"{counted(len(route.traces), 'trace')} over {kilometres(rounded(route.length_m, 0))}",
        "verdicts": ", ".join(
            f"{verdicts[verdict]} {verdict}" for verdict in VERDICT_GLYPHS if verdicts[verdict]
        ),
        "reason": printable(route.spread.reason, 200),
    }
