"""One odd set of rides through the whole tool: reading, analysis, report; within 10 s and 1 GB, or refused."""

from __future__ import annotations

import json
import shutil
import signal
import tempfile
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema

from fuzz.odd_rides import OddRides
from trackspread.api import analyse, write_report
from trackspread.errors import TrackspreadError, printable
from trackspread.options import Options
from trackspread.publish.cut import cut_for_publishing
from trackspread.results.arrays import load_analysis
from trackspread.results.saved import load_result

LONGEST_S = 10.0
LARGEST_BYTES = 10**9
SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "result.schema.json").read_text("utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


class TooSlow(BaseException):
    """A run took longer than it may; no handler for other errors must catch it."""


@dataclass(frozen=True, kw_only=True)
class Ran:
    """What one run came to: ``routes`` is 0 where it was refused."""

    routes: int
    seconds: float
    peak_bytes: int


@contextmanager
def bounded(seconds: float) -> Iterator[None]:
    """Raise `TooSlow` in whatever still runs after that time of the processor."""

    def stop(*_: object) -> None:
        raise TooSlow(f"more than {seconds:.0f} s")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def peak_bytes() -> int:
    """Return the most memory that this process held since `forget_peak`, 0 where the system does not say."""
    with suppress(OSError):
        for line in Path("/proc/self/status").read_text("ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024
    return 0


def forget_peak() -> None:
    """Begin a new count of `peak_bytes`."""
    with suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", "ascii")


def run(rides: OddRides, *, longest_s: float = LONGEST_S) -> Ran:
    """Take a set through the tool; anything but a result that holds its contract, or a refusal, raises."""
    folder = Path(tempfile.mkdtemp(prefix="odd-"))
    try:
        rides.write(folder / "in")
        reference = folder / "line.gpx"
        reference.write_bytes(rides.reference)
        forget_peak()
        begun = time.process_time()
        with bounded(longest_s), warnings.catch_warnings():
            warnings.simplefilter("error")
            routes = _whole(rides, folder, reference if rides.reference else None)
        seconds, peak = time.process_time() - begun, peak_bytes()
        if peak > LARGEST_BYTES:
            raise AssertionError(f"{peak / 1e6:.0f} MB of memory")
        return Ran(routes=routes, seconds=seconds, peak_bytes=peak)
    finally:
        shutil.rmtree(folder)


def _whole(rides: OddRides, folder: Path, reference: Path | None) -> int:
    try:
        options = Options(**rides.options)
        analysis = analyse(folder / "in", options, reference=reference)
    except TrackspreadError as error:
        _check_words(str(error))
        return 0
    for problem in analysis.problems:
        _check_words(problem)
    if rides.publish:
        try:
            analysis = cut_for_publishing(analysis)
        except TrackspreadError as error:
            _check_words(str(error))
            return 0
    write_report(analysis, folder / "out")
    document: dict[str, Any] = load_result(folder / "out")
    VALIDATOR.validate(document)
    load_analysis(folder / "out")
    left = {path.name for path in folder.iterdir()}
    if left != {"in", "out", "line.gpx"}:
        raise AssertionError(f"left behind: {left}")
    return len(document["routes"])


def _check_words(text: str) -> None:
    for line in text.split("\n"):
        if line != printable(line, 2000):
            raise AssertionError(f"not fit to be shown: {line!r}")
