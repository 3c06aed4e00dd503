"""Which folders below a root are routes, and which of them are the watches of one campaign."""

from __future__ import annotations

import math
import os
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import combinations, islice
from pathlib import Path

import numpy as np

from trackspread.geometry.sphere import places_m
from trackspread.model import Floats
from trackspread.readers import read_files

ENDINGS = (
    ".gpx", ".fit", ".tcx", ".kml", ".nmea", ".parquet", ".gpx.gz", ".fit.gz", ".tcx.gz", ".kml.gz", ".zip",
)  # fmt: skip
NEAR_FOLDERS_M = 300.0  # m between the ends of folders of one place
AT_ONCE_S = 120.0  # s between the starts of two watches of one ride
LEAST_RIDES = 2
"""Two riders may set out together once; twice is a campaign."""
MOST_FILES = 4
"""So many files of a folder are looked at to see where it was ridden."""


def route_folders(root: Path) -> list[Path]:
    """Return the folders below ``root`` that hold traces or a rides.csv, with all that lies inside.

    Sub-folders of one name in two folders or more are taken for watches (a folder a campaign, a sub-folder a
    watch) where two that lie side by side hold rides from the same start to the same end: the folder above
    is then analysed as one, so that its watches are compared. Routes of one name in two regions are no
    watches. Sub-folders that set out at one moment twice are those of watches, whatever they are called.

    Parameters
    ----------
    root : Path
        Hidden folders below it are passed over.

    Returns
    -------
    list of Path
        In order, none inside another.
    """
    found: list[Path] = []
    for here, folders, files in os.walk(root):
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        if Path(here) != root and any(f == "rides.csv" or _holds_traces(f) for f in files):
            found.append(Path(here))
            folders.clear()
    return sorted(_campaigns(root, found))


def split_campaigns(root: Path, folders: Iterable[Path]) -> list[Path]:
    """Return the folders whose sub-folders are analysed apart, so that none is compared with another.

    Parameters
    ----------
    root : Path
        Of the archive.
    folders : iterable of Path
        Those that `route_folders` found below it.

    Returns
    -------
    list of Path
        In order.
    """
    parents = Counter(folder.parent for folder in folders)
    return sorted(parent for parent, count in parents.items() if count > 1 and parent != root)


def passed_over(root: Path, folders: Iterable[Path]) -> Iterator[tuple[Path, str]]:
    """Yield what lies in none of the route folders and cannot be read there, with the reason.

    Parameters
    ----------
    root : Path
        Of the archive.
    folders : iterable of Path
        Those that `route_folders` found below it.

    Yields
    ------
    path : Path
        A trace, or a link that leads nowhere.
    reason : str
        With what can be done about it.
    """
    routes = set(folders)
    for here, inside, files in os.walk(root):
        if Path(here) in routes:
            inside.clear()
            continue
        inside.sort()
        for path in (Path(here, file) for file in sorted(files)):
            if path.is_symlink() and not os.path.exists(path):
                yield path, "this link leads nowhere; mend it, or take it out"
            elif _holds_traces(path.name):
                yield path, "it lies beside the route folders; move it into the one that it belongs to"


def _holds_traces(file: str) -> bool:
    return file.lower().endswith(ENDINGS)


def _campaigns(root: Path, found: Sequence[Path]) -> set[Path]:
    """Return the folders with those of watches replaced by the campaign that they lie in."""
    names = Counter(folder.name.casefold() for folder in found if folder.parent != root)
    inside: defaultdict[Path, list[Path]] = defaultdict(list)
    for folder in found:
        if folder.parent != root:
            inside[folder.parent].append(folder)
    above = set()
    for parent, folders in inside.items():
        named = any(names[folder.name.casefold()] > 1 for folder in folders)
        within_s, least = (math.inf, 1) if named else (AT_ONCE_S, LEAST_RIDES)
        if any(_rides_alike(a, b, within_s) >= least for a, b in combinations(folders, 2)):
            above.add(parent)
    return {folder.parent if folder.parent in above else folder for folder in found}


def _rides_alike(folder: Path, other: Path, within_s: float) -> int:
    """Return how often both hold a ride from the same start to the same end, begun within that time."""
    return sum(
        bool((np.linalg.norm(a - b, axis=1) < NEAR_FOLDERS_M).all())
        and (within_s == math.inf or abs(start_s - other_s) < within_s)
        for start_s, a in _ends_m(str(folder))
        for other_s, b in _ends_m(str(other))
    )


@lru_cache(maxsize=64)
def _ends_m(folder: str) -> tuple[tuple[float, Floats], ...]:
    """Return when the first recordings of a folder began, and both ends on a sphere, shape (2, 3) each."""
    files = read_files(list(islice(_trace_files(folder), MOST_FILES))).files
    traces = [trace for file in files for trace in file.traces]
    return tuple(
        (float(trace.time_s[0]), places_m(trace.lon_deg[[0, -1]], trace.lat_deg[[0, -1]])) for trace in traces
    )


def _trace_files(folder: str) -> Iterator[str]:
    for here, _, files in os.walk(folder):
        yield from (os.path.join(here, file) for file in sorted(files) if _holds_traces(file))
