"""Read, analyse, write a report, load a result: `trackspread` itself gives these names."""

from __future__ import annotations

import os
import time
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from trackspread.model import Analysis, Floats, Recordings
    from trackspread.options import Options
    from trackspread.system.progress import Progress


NO_TWO = (
    "nothing to analyse: no two traces run the same way in the same direction; "
    "give at least two rides of one route"
)
ONLY_COPIES = (
    "nothing to analyse: the traces of a route are one recording, exported more than once; "
    "give at least two rides of one route"
)

Source = str | os.PathLike[str]
"""A file, a folder, a glob, a ``.gz`` or a ``.zip``."""


def analyse(
    source: Source | Iterable[Source] | Recordings,
    options: Options | None = None,
    *,
    rides: Source | None = None,
    reference: Source | tuple[tuple[Floats, Floats], ...] | None = None,
    progress: Progress | None = None,
    workers: int = 1,
    executor: Executor | None = None,
    cache: bool = False,
    **thresholds: float | int | str | bool,
) -> Analysis:
    """Read all traces of ``source`` and analyse every route that at least two of them share.

    Parameters
    ----------
    source : path, iterable of paths, or Recordings
        Files, folders, globs, ``.gz``, ``.zip``; or what `read` gave.
    options : Options, optional
        Thresholds; the defaults where not given.
    rides : path, optional
        A table ``file,receiver,ride,start_pressed,fix_seen,firmware,route,colour,note``; without
        it ``rides.csv`` beside the traces.
    reference : path or pieces, optional
        A surveyed or drawn line, or its pieces (longitude and latitude in degrees, shape (N,) each), to turn
        agreement into accuracy.
    progress : callable, optional
        See `Progress`.
    workers : int
        Processes that read files, with this one.
    executor : concurrent.futures.Executor, optional
        What to read files on instead, and to analyse routes where there are several: a pool of processes, a
        cluster, any other.
    cache : bool
        Reuse traces parsed and steps done before with the same input, from the platform's cache folder.
    **thresholds
        Single fields of `Options`, instead of ``options`` or on top of it.

    Returns
    -------
    Analysis
        Frozen records; ``analysis["Route A"]`` is a route, ``analysis.to_frame("segments")`` a table.

    Raises
    ------
    NothingToAnalyse
        No route with two traces was found; the text holds every problem, one line each.
    BadOption
        A threshold is outside its range, or there is none of that name.

    Examples
    --------
    >>> import trackspread as ts
    >>> analysis = ts.analyse("demo_routes", segment_m=50)
    >>> len(analysis["Route A"].traces)
    10
    """
    from trackspread.errors import NothingToAnalyse
    from trackspread.model import Recordings
    from trackspread.options import with_thresholds
    from trackspread.pipeline.analyse import ONE_RECORDING
    from trackspread.pipeline.analyse import analyse as phases
    from trackspread.results.words.reasons import said

    chosen = with_thresholds(options, thresholds)
    drawn = () if reference is None else reference
    if isinstance(drawn, str | os.PathLike):
        from trackspread.readers.reference_line import read_reference

        drawn = read_reference(Path(drawn))
    recordings = (
        source
        if isinstance(source, Recordings)
        else read(source, rides=rides, progress=progress, workers=workers, executor=executor, cache=cache)
    )
    if not recordings.witnesses:
        raise NothingToAnalyse("nothing to analyse: no file held a usable trace", recordings.problems)
    analysis = phases(
        recordings.witnesses,
        chosen,
        reference=drawn,
        created_s=float(int(time.time())),
        problems=tuple(map(str, recordings.problems)),
        progress=progress,
        executor=executor,
        cache=cache,
    )
    if not analysis.routes:
        reasons = [f"{record.file}: {said(record.reason)}" for record in analysis.inputs if record.reason]
        copies = any(record.reason == ONE_RECORDING for record in analysis.inputs)
        text = "\n".join([ONLY_COPIES if copies else NO_TWO, *reasons])
        raise NothingToAnalyse(text, recordings.problems)
    return analysis


def read(
    source: Source | Iterable[Source],
    *,
    rides: Source | None = None,
    progress: Progress | None = None,
    workers: int = 1,
    executor: Executor | None = None,
    cache: bool = False,
) -> Recordings:
    """Read all traces of ``source`` and find out who, when and which: the first half of `analyse`.

    Parameters
    ----------
    source, rides, progress, workers, executor, cache
        As for `analyse`.

    Returns
    -------
    Recordings
        ``witnesses``, one a trace, and ``problems``, one a file or row that could not be used.

    Examples
    --------
    >>> import trackspread as ts
    >>> ts.read("demo_routes").witnesses[0].receiver
    'saxifrage'
    """
    from trackspread.model import Recordings
    from trackspread.readers import read_files
    from trackspread.rides.assign import assign_witnesses
    from trackspread.rides.sheet.table import read_sheets

    given = [source] if isinstance(source, str | os.PathLike) else source
    paths = [os.fspath(path) for path in given]
    found = read_files(paths, progress=progress, workers=workers, executor=executor, cache=cache)
    sheet = read_sheets(found, Path(rides) if rides is not None else None)
    witnesses, doubts = assign_witnesses(found, sheet)
    return Recordings(witnesses=witnesses, problems=(*found.problems, *sheet.problems, *doubts))


def load(folder: Source) -> Analysis:
    """Return the analysis that `write_report` wrote into ``folder``.

    Parameters
    ----------
    folder : path
        A folder with ``result.json`` and ``arrays.npz``.

    Returns
    -------
    Analysis

    Raises
    ------
    UnreadableFile
        The folder holds no result, or one that was changed by hand.

    Examples
    --------
    >>> import tempfile, trackspread as ts
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     files = ts.write_report(ts.analyse("demo_routes"), folder + "/out")
    ...     len(ts.load(folder + "/out").routes)
    2
    """
    from trackspread.results.arrays import load_analysis

    return load_analysis(Path(folder))


def write_report(
    analysis: Analysis,
    folder: Source,
    *,
    basemap: str | None = None,
    attribution: str = "",
    ground: Source | None = None,
    places: Source | None = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> list[Path]:
    """Write report.html, map.html, result.json, tables/, layers.gpkg and arrays.npz, all or none.

    Parameters
    ----------
    analysis : Analysis
        What `analyse` or `load` gave.
    folder : path
        A new folder, or one that an earlier run wrote.
    basemap, attribution : str
        Address of map tiles and whose map it is; none are loaded unless asked for.
    ground : path, optional
        Lines or areas to draw under the maps: GeoJSON or GeoPackage.
    places : path, optional
        Named places: a table ``name,lon,lat`` or ``name,station``.
    progress : callable, optional
        See `Progress`.
    executor : concurrent.futures.Executor, optional
        Pages and layers are made there, and the rest here meanwhile.

    Returns
    -------
    list of Path
        The files.

    Raises
    ------
    FolderRefused
        The folder holds something that this tool did not write, or cannot be written to.

    Examples
    --------
    >>> import tempfile, trackspread as ts
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     files = ts.write_report(ts.analyse("demo_routes"), folder + "/out")
    ...     sorted(file.name for file in files if file.suffix == ".html")
    ['map.html', 'report.html']
    """
    from trackspread.report.write import write_all

    return write_all(
        analysis, Path(folder), basemap=basemap, attribution=attribution,
        ground=Path(ground) if ground is not None else None,
        places=Path(places) if places is not None else None, progress=progress, executor=executor,
    )  # fmt: skip
