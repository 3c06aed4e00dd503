"""Which folders of an archive hold the watches of one ride, yet were analysed apart."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

import numpy as np

from trackspread.archive.folders import AT_ONCE_S, LEAST_RIDES, NEAR_FOLDERS_M
from trackspread.archive.run import RESULT, Outcome
from trackspread.geometry.sphere import places_m
from trackspread.model import Floats


def ridden_together(outcomes: Sequence[Outcome], folder: Path) -> list[tuple[str, ...]]:
    """Return the names of folders whose rides began at one place and one moment, group by group.

    Parameters
    ----------
    outcomes : sequence of Outcome
        What came of each route folder.
    folder : Path
        Where the results are.

    Returns
    -------
    list of tuple of str
        Only groups of two folders or more.
    """
    starts = sorted(
        (start for one in outcomes if one.state != "failed" for start in _starts(one.name, folder)),
        key=lambda start: start[0],
    )
    shared: Counter[tuple[str, str]] = Counter()
    for number, (time_s, place, name) in enumerate(starts):
        for other_s, there, other in starts[number + 1 :]:
            if other_s - time_s > AT_ONCE_S:
                break
            if other != name and np.linalg.norm(there - place) < NEAR_FOLDERS_M:
                shared[min(name, other), max(name, other)] += 1
    groups = {one.name: frozenset([one.name]) for one in outcomes}
    for (a, b), rides in shared.items():
        if rides >= LEAST_RIDES:
            both = groups[a] | groups[b]
            groups |= dict.fromkeys(both, both)
    return sorted({tuple(sorted(group)) for group in groups.values() if len(group) > 1})


def _starts(name: str, folder: Path) -> Iterator[tuple[float, Floats, str]]:
    """Yield when and where every used recording of one folder began."""
    document = json.loads((folder / name / RESULT).read_text("utf-8"))
    first = {route["name"]: np.array(route["centreline"]["coordinates"][:1]) for route in document["routes"]}
    for one in document["inputs"]:
        if one["route"] in first and one["start_time"]:
            lon_deg, lat_deg = first[one["route"]].T
            yield datetime.fromisoformat(one["start_time"]).timestamp(), places_m(lon_deg, lat_deg)[0], name
