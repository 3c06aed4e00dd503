"""Which folders of an archive hold the watches of one ride, yet were analysed apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from trackspread.archive.folders import AT_ONCE_S, LEAST_RIDES, NEAR_FOLDERS_M
from trackspread.archive.run import Outcome
from trackspread.geometry.sphere import places_m


def ridden_together(outcomes: Sequence[Outcome]) -> list[tuple[str, ...]]:
    """Return the names of folders whose rides began at one place and one moment, group by group.

    Parameters
    ----------
    outcomes : sequence of Outcome
        What came of each route folder.

    Returns
    -------
    list of tuple of str
        Only groups of two folders or more.
    """
    starts = sorted(
        (
            (time_s, places_m(np.array([lon_deg]), np.array([lat_deg]))[0], one.name)
            for one in outcomes
            for time_s, lon_deg, lat_deg in one.starts
        ),
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
