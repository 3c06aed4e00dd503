"""Ways aside that a ride went in and back out of, to go on where it left the line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from trackspread.model import Floats
from trackspread.numeric.runs import runs
from trackspread.statistics.astray.way_ridden import way_was_ridden

LEAVES_M = 15.0  # m from the line from which a trace is aside
LEAST_FAR_M = 30.0  # m from the line that a dead end reaches: less may be error
CAME_BACK_M = 25.0  # m between the places where the way aside leaves the line and comes back


@dataclass(frozen=True, kw_only=True, slots=True)
class DeadEnd:
    """A way aside of trace ``trace``: where it left the line, and how far from it it went, metres."""

    trace: int
    station_m: float
    far_m: float


def dead_ends(
    trace: int, line_xy: Floats, station_m: Floats, crossing_s: Floats, way_xyt: Floats
) -> list[DeadEnd]:
    """Return the dead ends that the rider of a trace went into and came back from.

    The trace goes `LEAST_FAR_M` or more from the line and comes back to where it left, and both ways took the
    time that their length takes (`way_was_ridden`). No station lies there, so no figure tells of it.
    (The rule is our own.)

    Parameters
    ----------
    trace : int
        Number of the trace.
    line_xy : ndarray, shape (S, 2)
        The line, metres.
    station_m : ndarray, shape (S,)
    crossing_s : ndarray, shape (S,)
        When the trace passed each station, seconds, NaN unknown.
    way_xyt : ndarray, shape (P, 3)
        The logged points, metres, and seconds.

    Returns
    -------
    list of DeadEnd
        In order of time.
    """
    distance_m, foot = cKDTree(line_xy).query(way_xyt[:, :2])
    out = []
    for first, last in runs(distance_m >= LEAVES_M).tolist():
        far_m = float(distance_m[first : last + 1].max())
        left, back = first - 1, last + 1
        if far_m < LEAST_FAR_M or left < 0 or back == len(foot):
            continue
        between_m = np.linalg.norm(line_xy[foot[left]] - line_xy[foot[back]])
        ends = int(foot[[left, back]].min()), int(foot[[left, back]].max())
        if between_m <= CAME_BACK_M and way_was_ridden(*ends, line_xy, station_m, crossing_s, way_xyt):
            out.append(DeadEnd(trace=trace, station_m=float(station_m[foot[left]]), far_m=far_m))
    return out


def witnessed_by_all(
    found: Sequence[DeadEnd], ride: Sequence[int], crossing_s: Floats, station_m: Floats
) -> list[DeadEnd]:
    """Return the dead ends that every watch of the ride logged that was there.

    Parameters
    ----------
    found : sequence of DeadEnd
    ride : sequence of int, length T
        Ride of each trace.
    crossing_s : ndarray, shape (T, S)
        When each trace passed each station, NaN where it was not there.
    station_m : ndarray, shape (S,)

    Returns
    -------
    list of DeadEnd
    """

    def saw(trace: int, end: DeadEnd) -> bool:
        near = np.abs(station_m - end.station_m) <= 2 * CAME_BACK_M
        return not np.isfinite(crossing_s[trace, near]).any() or any(
            other.trace == trace and abs(other.station_m - end.station_m) <= 2 * CAME_BACK_M
            for other in found
        )

    aboard = range(len(ride))
    return [end for end in found if all(saw(t, end) for t in aboard if ride[t] == ride[end.trace])]
