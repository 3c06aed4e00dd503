"""Whether a rider went where a trace went: the way that it logged beside the time that it took."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from trackspread.model import Floats, Ints

RESAMPLED_S = 3.0  # s between places of a way, or the time between logged points: less is noise
USUAL_OVER_M = 500.0  # m before and after over which the usual speed is taken
ENDS_M = 30.0  # m beyond both ends of a stretch, in which its legs may begin and end
LEAST_SPEED_M_S = 0.6  # slower is standing, m/s
LEAST_STEPS = 5  # moving steps that tell a usual speed
LEAST_USUAL, MOST_USUAL = 0.4, 1.8
"""In usual speeds: slower steps are standing and faster ones leaps, and neither is way ridden."""
NEAR_SHARE, FAR_SHARE = 0.2, 0.8
"""A leg is the way between these shares of the farthest distance from the line."""
LEAST_LONGER = 1.3
"""A leg tells something where it is so much longer than the line beside it: from 40 degrees to it on."""
STRAIGHT = 1.2  # most length of a leg over the distance between its ends
LEAST_WAY = 0.75  # of a leg's distance across the line, the way that must be ridden
MOST_TIME = 1.5  # of the time that its way takes


@dataclass(frozen=True, kw_only=True, slots=True)
class _Leg:
    """A leg, metres: of the line beside it, across that, ridden, and usually ridden in its time."""

    line_m: float
    across_m: float
    way_m: float
    usual_m: float

    def was_ridden(self) -> bool:
        """Return whether its time is that of its way, and not that of the line."""
        return (
            self.way_m >= LEAST_LONGER * self.line_m
            and LEAST_WAY * self.across_m <= self.way_m <= STRAIGHT * np.hypot(self.line_m, self.across_m)
            and 0.5 * (self.line_m + self.way_m) <= self.usual_m <= MOST_TIME * self.way_m
        )


def way_was_ridden(
    first: int, last: int, line_xy: Floats, station_m: Floats, crossing_s: Floats, way_xyt: Floats
) -> bool:
    """Return whether the rider of a trace that leaves the line went there himself.

    Who turns off and comes back rides a longer way, and needs the time for it: while he rides across the
    line he does not get on along it. The error of a receiver makes the *logged* way longer, but not the
    time: its rider gets on along the line as ever. So both legs, on which the trace goes away and comes
    back, must be straight, clearly longer than the line beside them (`LEAST_LONGER`), logged at riding speed,
    and their time at the usual speed nearer to the length of the leg than to that of the line. Leaps and
    standing count neither as way nor as time. A way that leaves the line at a flat angle says nothing, nor
    does a trace without times. (The rule is our own.)

    Parameters
    ----------
    first, last : int
        Stations of the stretch.
    line_xy : ndarray, shape (S, 2)
        The line, metres.
    station_m : ndarray, shape (S,)
    crossing_s : ndarray, shape (S,)
        When the trace passed each station, seconds, NaN unknown.
    way_xyt : ndarray, shape (P, 3)
        The logged points, metres, and seconds.

    Returns
    -------
    bool
    """
    passed = np.flatnonzero(np.isfinite(crossing_s))
    if len(passed) < 2 or not np.isfinite(way_xyt[:, 2]).all() or not (np.diff(way_xyt[:, 2]) > 0).all():
        return False
    step_m = station_m[1] - station_m[0]
    ends, beside = round(ENDS_M / step_m), round(USUAL_OVER_M / step_m)
    start, end = _between(passed, first - ends, last + ends)
    outer = _between(passed, start - beside, end + beside)
    every_s = max(RESAMPLED_S, float(np.median(np.diff(way_xyt[:, 2]))))
    sides = [
        _places(way_xyt, crossing_s[a], crossing_s[b], every_s)
        for a, b in ((outer[0], start), (end, outer[1]))
    ]
    speed = np.concatenate([_steps(places) / took_s for places, took_s in sides])
    speed = speed[speed > LEAST_SPEED_M_S]
    places, took_s = _places(way_xyt, crossing_s[start], crossing_s[end], every_s)
    if len(speed) < LEAST_STEPS or len(places) < 2:
        return False
    part = slice(max(0, start - 2), end + 3)
    distance_m, foot = cKDTree(line_xy[part]).query(places)
    legs = _legs(places, took_s, float(np.median(speed)), distance_m, station_m[part][foot])
    return len(legs) == 2 and all(leg.was_ridden() for leg in legs)


def _between(passed: Ints, first: int, last: int) -> tuple[int, int]:
    """Return the stations that were passed next to two others, towards the outside."""
    before, after = passed[passed <= first], passed[passed >= last]
    return int(before[-1] if len(before) else passed[0]), int(after[0] if len(after) else passed[-1])


def _places(way_xyt: Floats, from_s: float, to_s: float, every_s: float) -> tuple[Floats, float]:
    """Return places of a way at even times, shape (N, 2), and the seconds between them."""
    if not to_s > from_s:
        return np.empty((0, 2)), every_s
    count = max(1, round((to_s - from_s) / every_s))
    at = np.linspace(from_s, to_s, count + 1)
    x, y, t = way_xyt.T
    return np.column_stack([np.interp(at, t, x), np.interp(at, t, y)]), (to_s - from_s) / count


def _steps(places: Floats) -> Floats:
    return np.asarray(np.hypot(*np.diff(places, axis=0).T))


def _legs(places: Floats, took_s: float, usual_m_s: float, distance_m: Floats, at_m: Floats) -> list[_Leg]:
    """Return the two legs of a way, fewer where it does not come from the line and back to it."""
    farthest = float(distance_m.max())
    far, near = (
        np.flatnonzero(distance_m >= FAR_SHARE * farthest),
        np.flatnonzero(distance_m <= NEAR_SHARE * farthest),
    )
    before, after = near[near < far[0]], near[near > far[-1]]
    step_m = _steps(places)
    usual_m = usual_m_s * took_s
    ridden = (step_m >= LEAST_USUAL * usual_m) & (step_m <= MOST_USUAL * usual_m)
    if not (len(before) and len(after)):
        return []
    ends = ((int(before[-1]), int(far[0])), (int(far[-1]), int(after[0])))
    return [
        _Leg(
            line_m=abs(float(at_m[b] - at_m[a])),
            across_m=abs(float(distance_m[b] - distance_m[a])),
            way_m=float(step_m[a:b][ridden[a:b]].sum()),
            usual_m=float(ridden[a:b].sum()) * usual_m,
        )
        for a, b in ends
    ]
