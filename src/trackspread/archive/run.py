"""Analyse every route folder below a root, on any executor, and go on where a run was stopped."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ThreadPoolExecutor, wait
from dataclasses import asdict, dataclass
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from trackspread import __version__
from trackspread.api import analyse, write_report
from trackspread.archive.folders import route_folders
from trackspread.archive.index import COLUMNS
from trackspread.errors import FolderRefused, TrackspreadError, printable
from trackspread.numeric.intervals import median_interval
from trackspread.options import Options
from trackspread.pipeline.inputs import unknown_watches
from trackspread.results.words.reasons import said
from trackspread.system.opening import place_of
from trackspread.system.placing import is_abandoned, is_ours, whole
from trackspread.system.progress import Progress

MARK = "archive-mark.json"
RESULT = "result.json"
TRIES = 3  # times that a route is given to a worker before it counts as failed
_OF_WATCHES = ("receiver", "rides", "spread", "first_fix_s", "stray_share", "group")


@dataclass(frozen=True, kw_only=True, slots=True)
class Job:
    """One route folder: where its traces are, where its results go, and by which thresholds."""

    name: str
    traces: str
    result: str
    options: Options


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """What came of one route folder: ``done``, ``known`` (finished in an earlier run) or ``failed``.

    ``reason`` is why it failed, or why there are no figures per watch. ``aside`` has one line for everything
    of a finished route that could not be used. ``starts`` has when every used recording began, seconds since
    1970, and where its route does: (time, longitude, latitude), degrees.
    """

    name: str
    state: str
    reason: str = ""
    rows: tuple[dict[str, Any], ...] = ()
    aside: tuple[str, ...] = ()
    starts: tuple[tuple[float, float, float], ...] = ()


def analyse_archive(
    root: Path | str,
    folder: Path | str,
    options: Options | None = None,
    *,
    executor: Callable[[], Executor] | None = None,
    ahead: int = 8,
    progress: Progress | None = None,
) -> list[Outcome]:
    """Analyse every route folder below ``root`` into a folder of the same name below ``folder``.

    A route whose files, thresholds and version are those of a finished run is not done again. Each
    route is written in one step, so a run that is stopped leaves whole results only. A route that
    cannot be analysed costs no other; a worker that dies has its route done again, up to three times.

    Parameters
    ----------
    root : Path or str
        Holds the route folders.
    folder : Path or str
        Where results go; may not exist yet. It must not lie among the traces.
    options : Options, optional
        All thresholds.
    executor : callable, optional
        Makes any `concurrent.futures.Executor`; a new one is asked for when one breaks. Without it all
        runs here, one route after the other.
    ahead : int
        Most routes under way at once; memory depends on it and not on the number of routes.
    progress : callable, optional
        Hears a phase and the share of it that is done.

    Returns
    -------
    list of Outcome
        In the order of the folders.

    Raises
    ------
    FolderRefused
        No folder below ``root`` holds traces, or the results would lie among them.
    """
    root, folder = place_of(root), place_of(folder)
    if folder == root or root in folder.parents or folder in root.parents:
        beside = f"results must not lie among the traces; name a folder beside {printable(str(root), 300)}"
        raise FolderRefused(f"{printable(str(folder), 300)}: {beside}")
    folders = route_folders(root)
    if not folders:
        rule = "no folder below it holds traces; name the folder above the route folders"
        raise FolderRefused(f"{printable(str(root), 300)}: {rule}")
    jobs = [
        Job(name=str(f.relative_to(root)), traces=str(f), result=str(folder / f.relative_to(root)),
            options=options or Options())
        for f in folders
    ]  # fmt: skip
    tell = progress or (lambda phase, share: None)
    outcomes: dict[str, Outcome] = {}
    for outcome in _run(jobs, executor or (lambda: ThreadPoolExecutor(1)), ahead):
        outcomes[outcome.name] = outcome
        tell("Routes", len(outcomes) / len(jobs))
    return [outcomes[job.name] for job in jobs]


def _run(jobs: Sequence[Job], make: Callable[[], Executor], ahead: int) -> Iterator[Outcome]:
    """Yield outcomes as they come; what a broken executor lost is done again on a new one."""
    left = {job.name: (job, 1) for job in jobs}
    while left:
        with make() as executor:
            for job, future in _submitted(executor, [job for job, _ in left.values()], ahead):
                error = future.exception()
                if error is None:
                    del left[job.name]
                    yield future.result()
                    continue
                _, tries = left[job.name]
                left[job.name] = (job, tries + 1)
                if tries >= TRIES:
                    del left[job.name]
                    yield Outcome(name=job.name, state="failed", reason=_lost(error))


def _lost(error: BaseException) -> str:
    return f"its worker was lost {TRIES} times: {type(error).__name__}"


def _submitted(executor: Executor, jobs: list[Job], ahead: int) -> Iterator[tuple[Job, Future[Outcome]]]:
    """Submit with at most ``ahead`` under way; stop submitting once the executor is broken."""
    todo = iter(jobs)
    running = {executor.submit(analyse_one, job): job for job in islice(todo, ahead)}
    while running:
        done, _ = wait(list(running), return_when=FIRST_COMPLETED)
        broken = False
        for future in done:
            broken |= future.exception() is not None
            yield running.pop(future), future
        if not broken:
            running.update({executor.submit(analyse_one, job): job for job in islice(todo, len(done))})


def analyse_one(job: Job) -> Outcome:
    """Analyse one route folder, unless it is finished; runs in a worker.

    Parameters
    ----------
    job : Job
        The folder, where its results go, and the thresholds.

    Returns
    -------
    Outcome
        ``failed`` with the reason where it cannot be analysed: errors of a folder end nothing else.
    """
    try:
        signature = _signature(job)
        known = _known(job, signature)
        if known is not None:
            return known
        analysis = analyse(job.traces, job.options)
        write_report(analysis, job.result)
        document = json.loads(Path(job.result, RESULT).read_text("utf-8"))
        outcome = Outcome(
            name=job.name, state="done", reason=said(unknown_watches(analysis.inputs)),
            rows=tuple(_rows(job.name, document)), aside=tuple(_aside(document)),
            starts=tuple(_starts(document)),
        )  # fmt: skip
        _mark(job, signature, outcome)
        return outcome
    except TrackspreadError as error:
        return Outcome(name=job.name, state="failed", reason=printable(error.text, 300))
    except OSError as error:
        return Outcome(
            name=job.name, state="failed", reason=printable(f"{error.filename}: {error.strerror}", 300)
        )


def _signature(job: Job) -> str:
    """Return a hash of the files of a route, by name, size and time, and of all thresholds."""
    digest = hashlib.sha256(f"{__version__} {COLUMNS} {job.options.as_dict()}".encode())
    for here, folders, files in os.walk(job.traces):
        folders.sort()
        for name in sorted(files):
            path = os.path.join(here, name)
            try:
                status = os.stat(path)
            except OSError:  # a link that leads nowhere costs itself alone
                status = os.lstat(path)
            digest.update(os.fsencode(path) + f"\0{status.st_size}\0{status.st_mtime_ns}\0".encode())
    return digest.hexdigest()


def _known(job: Job, signature: str) -> Outcome | None:
    """Return what came of a finished route, None where there is none by this signature, or it was changed."""
    try:
        mark = json.loads(Path(job.result, MARK).read_text("utf-8"))
        seal = mark.pop("seal")
        if mark["signature"] == signature and seal == _seal(job, mark):
            told = {name: tuple(mark[name]) for name in ("rows", "aside")}
            starts = tuple((time, lon, lat) for time, lon, lat in mark["starts"])
            return Outcome(name=job.name, state="known", reason=mark["reason"], starts=starts, **told)
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        pass
    return None


def _mark(job: Job, signature: str, outcome: Outcome) -> None:
    """Mark a route as finished, in one step."""
    mark = {"signature": signature, **asdict(outcome)}
    with whole(Path(job.result, MARK)) as part:
        part.write_text(json.dumps({**mark, "seal": _seal(job, mark)}), "utf-8")


def _seal(job: Job, mark: dict[str, Any]) -> str:
    """Return a hash of a mark and of the result that it stands beside."""
    told = json.dumps(mark, sort_keys=True).encode()
    return hashlib.sha256(told + Path(job.result, RESULT).read_bytes()).hexdigest()


def _aside(document: dict[str, Any]) -> Iterator[str]:
    """Yield a line for everything that could not be used."""
    yield from document["problems"]
    for record in document["inputs"]:
        if record["status"] != "used":
            yield f"{record['file']}: set aside: {record['reason']}"


def _starts(document: dict[str, Any]) -> Iterator[tuple[float, float, float]]:
    """Yield when every used recording began, and where its route does."""
    first = {route["name"]: route["centreline"]["coordinates"][0] for route in document["routes"]}
    for one in document["inputs"]:
        if one["route"] in first and one["start_time"]:
            lon_deg, lat_deg = first[one["route"]][:2]
            yield datetime.fromisoformat(one["start_time"]).timestamp(), lon_deg, lat_deg


def _rows(name: str, document: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Return one row a route for the tables of the whole archive; the first one holds all watches."""
    compared = document.get("comparison") or {"receivers": ()}
    watches = [{key: watch.get(key) for key in _OF_WATCHES} for watch in compared["receivers"]]
    for number, route in enumerate(document["routes"]):
        verdicts = [segment["verdict"] for segment in route["segments"]]
        every = route.get("spread_all") or {}
        spread = every if every.get("value_m") is not None else route["spread"]
        yield {
            "folder": name,
            "route": route["name"],
            "title": route.get("title") or "",
            "watches": [] if number else watches,
            "traces": len(route["traces"]),
            "receivers": len(route["receivers"]),
            "length_m": route["length_m"],
            "spread_m": spread["value_m"],
            "spread_low_m": spread["low_m"],
            "spread_high_m": spread["high_m"],
            "stretches": len(route["stretches"]),
            "steady_share": verdicts.count("steady") / max(len(verdicts), 1),
            **_first_fixes(route),
        }


def _first_fixes(route: dict[str, Any]) -> dict[str, Any]:
    """Return the median first fix of all recordings with a known start, its exact interval, their number."""
    known = [t["first_fix"]["value_s"] for t in route["traces"] if t["first_fix"]["value_s"] is not None]
    median, low, high, _ = median_interval(np.array(known, dtype=float))
    values = (median, low, high) if known else (None, None, None)
    names = ("first_fix_s", "first_fix_low_s", "first_fix_high_s")
    return dict(zip(names, values, strict=True)) | {"first_fixes": len(known)}


def clear_parts(folder: Path) -> None:
    """Delete what killed runs left half-written below the results.

    Parameters
    ----------
    folder : Path
        The results of an archive, or of a run before.
    """
    for here, folders, _ in os.walk(folder):
        for name in [name for name in folders if is_ours(name)]:
            folders.remove(name)
            if is_abandoned(Path(here, name)):
                shutil.rmtree(Path(here, name), ignore_errors=True)
