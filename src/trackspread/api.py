"""The two calls that do the whole job: `analyse_files` and `write_report`.

`read_witnesses` and `analyse_witnesses` are the two halves of the first, for callers that show what was read.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from trackspread.errors import Problem
    from trackspread.model import Analysis, Floats, Witness
    from trackspread.options import Options

Progress = Callable[[str, float], None]
"""Called with the name of the phase and the share done (0 to 1); may raise `errors.Cancelled` to stop."""


def analyse_files(
    paths: Sequence[Path | str],
    options: Options | None = None,
    *,
    rides: Path | None = None,
    reference: Path | None = None,
    progress: Progress | None = None,
    workers: int = 1,
    executor: Executor | None = None,
    cache: bool = False,
) -> Analysis:
    """Read all traces below ``paths`` and analyse every route that at least two of them share.

    Parameters
    ----------
    paths : sequence of path or str
        Files, folders, globs, ``.gz``, ``.zip``.
    options : Options, optional
        Thresholds; the defaults where not given.
    rides : path, optional
        A table ``file,receiver,ride,start_pressed,note``; without it ``rides.csv`` beside the traces.
    reference : path, optional
        A surveyed or drawn line, to turn agreement into accuracy.
    progress : callable, optional
        See `Progress`.
    workers : int
        Processes that read files, with this one.
    executor : concurrent.futures.Executor, optional
        What to read files on instead, and to analyse routes where there are several: a pool of processes, a
        cluster, any other.
    cache : bool
        Reuse traces parsed before, from the platform's cache folder.

    Raises
    ------
    NothingToAnalyse
        No route with two traces was found; the text holds every problem, one line each.
    """
    from trackspread.readers.reference_line import read_reference

    drawn = read_reference(reference) if reference is not None else ()
    witnesses, problems = read_witnesses(
        paths, rides=rides, progress=progress, workers=workers, executor=executor, cache=cache
    )
    return analyse_witnesses(
        witnesses, options, reference=drawn, problems=problems, progress=progress, executor=executor
    )


def read_witnesses(
    paths: Sequence[Path | str],
    *,
    rides: Path | None = None,
    progress: Progress | None = None,
    workers: int = 1,
    executor: Executor | None = None,
    cache: bool = False,
) -> tuple[tuple[Witness, ...], tuple[Problem, ...]]:
    """Read all traces below ``paths`` and find out who, when and which; the first half of `analyse_files`.

    Returns
    -------
    witnesses, problems
        What `analyse_witnesses` takes.
    """
    from trackspread.readers import read_files
    from trackspread.rides import assign_witnesses, read_sheets

    read = read_files(paths, progress=progress, workers=workers, executor=executor, cache=cache)
    sheet = read_sheets(read, rides)
    witnesses, doubts = assign_witnesses(read, sheet)
    return witnesses, (*read.problems, *sheet.problems, *doubts)


def analyse_witnesses(
    witnesses: Sequence[Witness],
    options: Options | None = None,
    *,
    reference: tuple[tuple[Floats, Floats], ...] = (),
    problems: tuple[Problem, ...] = (),
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> Analysis:
    """Analyse traces that have been read already; ``problems`` of the reading stand in the result.

    ``reference`` holds the pieces (longitude, latitude) of a surveyed or drawn line.

    Raises
    ------
    NothingToAnalyse
        No route with two traces was found; the text holds every problem, one line each.
    """
    from trackspread.errors import NothingToAnalyse
    from trackspread.options import Options
    from trackspread.pipeline.analyse import analyse

    if not witnesses:
        raise NothingToAnalyse("nothing to analyse: no file held a usable trace", problems)
    analysis = analyse(
        witnesses,
        options or Options(),
        reference=reference,
        created_s=time.time(),
        problems=tuple(map(str, problems)),
        progress=progress,
        executor=executor,
    )
    if not analysis.routes:
        reasons = [f"{record.file}: {record.reason}" for record in analysis.inputs if record.reason]
        text = "\n".join(
            [
                "nothing to analyse: no two traces run the same way in the same direction; "
                "give at least two rides of one route",
                *reasons,
            ]
        )
        raise NothingToAnalyse(text, problems)
    return analysis


def write_report(
    analysis: Analysis,
    folder: Path | str,
    *,
    basemap: str | None = None,
    attribution: str = "",
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> list[Path]:
    """Write report.html, map.html, result.json, tables/ and layers.gpkg into ``folder``.

    With an ``executor`` (see `analyse_files`) pages and layers are made there, and the rest here meanwhile.

    Raises
    ------
    FolderRefused
        The folder holds something that this tool did not write, or cannot be written to.
    """
    from trackspread.report.write import write_all

    return write_all(
        analysis, Path(folder), basemap=basemap, attribution=attribution, progress=progress, executor=executor
    )
