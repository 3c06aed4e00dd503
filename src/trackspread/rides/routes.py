"""Sort traces into routes by corridor and direction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.spatial import cKDTree

from trackspread.geometry.sphere import places_m
from trackspread.model import NOTHING, Floats, Reason, Trace
from trackspread.model.arrays import earliest
from trackspread.numeric.runs import evenly

SAME_WAY = 0.7  # share of both ways that makes one route
NEAR_CORRIDORS = 1.2  # corridors within which ways are near each other
PART_OF_WAY = 0.85  # share of its way that a member or a part must have in a route
LEAST_PART = 0.25  # share of the route that a part must hold
FEW = 3  # parts that are alike and more than 1 in so many of a route are a route of their own
NEARER = 0.02  # share by which another route must fit better
LONG_STEP_M = 150.0  # m between two points over which nothing is known of the way
BENT = 0.3  # of such a step between points, how far beside the straight line a way may bend
ALONE_SHARE = 0.02  # share of the way that is shared by chance, at a crossing
NO_OTHER = Reason("no_other_this_way")
OTHER_DIRECTION = Reason("other_direction")
POSE_STEP_M = 25.0  # m between poses
MOST_ROUTE_POSES = 1500  # bounds the work
POOL = 12  # traces tried as the first of a route, bounds the work
LEAST_POINTS = 5  # points, fewer draw no way
LEAST_LENGTH_M = 100.0  # m, a default segment: less is no route


@dataclass(frozen=True, kw_only=True, slots=True)
class Grouping:
    """Members of each route (indices of traces), and why the others belong to none."""

    routes: tuple[tuple[int, ...], ...]
    strays: dict[int, Reason]
    nearest: dict[int, int] = field(default_factory=dict)
    """The number of the route that each stray's reason speaks of, where it does."""

    def without(self, dissolved: dict[int, Reason]) -> dict[int, Reason]:
        """Return the reasons of strays where some of the routes came to nothing: number of the route, why."""
        return {
            i: Reason.of("dissolved", because=dissolved[route])
            if (route := self.nearest.get(i, -1)) in dissolved
            else reason
            for i, reason in self.strays.items()
        }


def grouped(traces: list[Trace], corridor_m: float, rides: Sequence[str] = ()) -> Grouping:
    """Sort traces into routes: those that run in one corridor in one direction.

    Traces belong to the route of a trace, its lead, where each has 70 % of its poses (place and heading)
    near the other's and the lead 85 % of theirs. What goes another way for more than 15 % is a route of
    its own where two rides or more went there, else an odd ride of the route that it shares most with.
    A trace that holds at least a quarter of a route and little else belongs to it too (a late first fix,
    a receiver that stopped), as long as there are at most a third as many of the kind as the route has.
    A route needs two traces.

    Parameters
    ----------
    traces : list of Trace, length T
        All recordings, laps apart.
    corridor_m : float
        How far from each other two traces of one route may run, metres.
    rides : sequence of str, length T
        Names of rides; where there are none, every trace is a ride.

    Returns
    -------
    Grouping
        Routes in the order of `order_of_routes`.
    """
    strays = {i: reason for i, trace in enumerate(traces) if (reason := _too_little(trace))}
    along, bent = dict[int, Floats](), dict[int, Floats]()
    for i in set(range(len(traces))) - set(strays):
        along[i], bent[i] = _logged_poses(traces[i], corridor_m)
    shares = _Shares(along, bent, NEAR_CORRIDORS * corridor_m)
    named = {i: (rides[i] if rides else "") or f"#{i}" for i in along}
    routes = _nearest(shares, _routes(shares, named))
    free = set(along) - {i for route in routes for i in route}
    speaks_of: dict[int, list[int]] = {}
    for i in sorted(free):
        best = max(routes, key=lambda route: shares.share(i, route[0]), default=None)
        if best is not None and (shares.both(i, best[0]) >= SAME_WAY or shares.is_part(i, best[0])):
            best.append(i)
            continue
        strays[i], speaks_of[i] = _reason(shares, i, best, routes)
    order = sorted(routes, key=lambda route: order_of_routes(traces, sorted(route)))
    return Grouping(
        routes=tuple(tuple(sorted(route)) for route in order),
        strays=strays,
        nearest={i: order.index(route) for i, route in speaks_of.items() if route},
    )


def _reason(
    shares: _Shares, stray: int, best: list[int] | None, routes: list[list[int]]
) -> tuple[Reason, list[int]]:
    """Return why a trace belongs to no route, and the route that the reason speaks of (or none).

    Who rides a way back shares some of it there, too, where both directions use one lane: the direction in
    which more is shared tells.
    """
    back = max(routes, key=lambda route: shares.share_back(stray, route[0]), default=[])
    backward = shares.share_back(stray, back[0]) if back else 0.0
    forward = shares.share(stray, best[0]) if best else 0.0
    if backward >= SAME_WAY and backward > forward:
        return OTHER_DIRECTION, back
    if best is not None and forward >= ALONE_SHARE:
        return _why(forward, shares.share(best[0], stray)), best
    return NO_OTHER, []


def order_of_routes(traces: Sequence[Trace], members: Sequence[int]) -> tuple[int, float, int]:
    """Return the key that puts the route with most traces first, then the one ridden first.

    Parameters
    ----------
    traces : sequence of Trace
        All recordings.
    members : sequence of int
        Numbers of the traces of one route, in order.

    Returns
    -------
    count, first_s, number : int, float, int
        Minus the number of traces, when the route was ridden first (seconds UTC, infinite without times),
        and the first of ``members``.
    """
    return -len(members), earliest([traces[i].time_s for i in members]), members[0]


def _why(inside: float, held: float) -> Reason:
    return Reason.of("shares_too_little", inside=inside, held=held, needed=SAME_WAY)


def _too_little(trace: Trace) -> Reason:
    if len(trace.lon_deg) < LEAST_POINTS:
        return _too_few(trace)
    xyz = places_m(trace.lon_deg, trace.lat_deg)
    extent = float(np.linalg.norm(xyz.max(axis=0) - xyz.min(axis=0)))
    if extent < LEAST_LENGTH_M:
        return Reason.of("too_small", extent_m=extent, least_m=LEAST_LENGTH_M)
    return NOTHING


def _too_few(trace: Trace) -> Reason:
    """Return how many points were read and why the rest fell."""
    usable = len(trace.lon_deg)
    read = usable + trace.points_set_aside
    fell = tuple((finding.count, finding.code) for finding in trace.findings if trace.points_set_aside)
    return Reason.of("too_few_points", least=LEAST_POINTS, usable=usable, read=read, fell=fell)


def poses(trace: Trace, heading_m: float, step_m: float, most: int) -> tuple[Floats, Floats, Floats]:
    """Return places and headings along a trace, with the way travelled up to them.

    Parameters
    ----------
    trace : Trace
        With two points at least.
    heading_m : float
        Length of a heading's vector, metres: opposite headings are ``2 heading_m`` apart.
    step_m : float
        Between two places, metres.
    most : int
        Places at most.

    Returns
    -------
    poses : ndarray, shape (N, 6)
        Place on a sphere, then heading, metres.
    along_m : ndarray, shape (N,)
        Way travelled up to each, metres.
    travel_m : ndarray, shape (P,)
        Way travelled up to each logged point, metres.
    """
    xyz = places_m(trace.lon_deg, trace.lat_deg)
    step = np.linalg.norm(np.diff(xyz, axis=0), axis=1)
    travel = np.concatenate([[0.0], np.cumsum(step)])
    count = int(np.clip(travel[-1] / step_m, 4, most))
    at = np.linspace(0.0, travel[-1], count)
    place = np.stack([np.interp(at, travel, xyz[:, k]) for k in range(3)], axis=1)
    heading = np.gradient(place, axis=0)
    norm = np.linalg.norm(heading, axis=1, keepdims=True)
    return np.hstack([place, heading_m * heading / np.where(norm > 0, norm, 1.0)]), at, travel


def _logged_poses(trace: Trace, heading_m: float) -> tuple[Floats, Floats]:
    """Return the poses that lie where something was logged: the straight line over a gap is no way ridden.

    With them comes how far the way of a trace that logs seldom may bend aside between two points, metres.
    """
    pose, at, travel = poses(trace, heading_m, POSE_STEP_M, MOST_ROUTE_POSES)
    step = np.diff(travel)
    within = np.clip(np.searchsorted(travel, at, side="right") - 1, 0, len(step) - 1)
    logged = step[within] <= max(LONG_STEP_M, 3.0 * float(np.median(step)))
    share = (at - travel[within]) / np.maximum(step[within], 1e-9)
    bent = BENT * 4.0 * share * (1.0 - share) * np.where(step[within] > LONG_STEP_M, step[within], 0.0)
    return (pose[logged], bent[logged]) if logged.any() else (pose, bent)


class _Shares:
    """Shares of one trace's poses that lie near another's, computed when asked for."""

    def __init__(self, poses: dict[int, Floats], bent: dict[int, Floats], near_m: float) -> None:
        self.near_m = near_m
        self.poses = poses
        self.bent = bent
        self.trees: dict[int, cKDTree] = {}
        self.box = {i: (p[:, :3].min(axis=0), p[:, :3].max(axis=0)) for i, p in poses.items()}
        self.known: dict[tuple[int, int], float] = {}

    def share(self, a: int, b: int) -> float:
        """Return the share of the way of ``a`` that runs with ``b``."""
        if (a, b) not in self.known:
            self.known[a, b] = self._share(a, b)
        return self.known[a, b]

    def share_back(self, a: int, b: int) -> float:
        """Return the share of the way of ``a`` that runs with ``b`` the other way round."""
        return self._near(self.poses[a] * np.array([1.0, 1.0, 1.0, -1.0, -1.0, -1.0]), self.bent[a], b)

    def both(self, a: int, b: int) -> float:
        """Return the smaller of the two shares."""
        first = self.share(a, b)
        return min(first, self.share(b, a)) if first >= SAME_WAY else first

    def belongs(self, a: int, lead: int) -> bool:
        """Return whether ``a`` runs the way of ``lead`` and little else."""
        return self.both(a, lead) >= SAME_WAY and self.share(a, lead) >= PART_OF_WAY

    def is_part(self, a: int, whole: int) -> bool:
        """Return whether ``a`` holds a good part of ``whole`` and little else."""
        return self.share(a, whole) >= PART_OF_WAY and self.share(whole, a) >= LEAST_PART

    def _share(self, a: int, b: int) -> float:
        (low_a, high_a), (low_b, high_b) = self.box[a], self.box[b]
        if np.any(low_a > high_b + self.near_m) or np.any(low_b > high_a + self.near_m):
            return 0.0
        return self._near(self.poses[a], self.bent[a], b)

    def _near(self, poses: Floats, bent: Floats, b: int) -> float:
        """Return the share of poses that lie near those of ``b``, or as near as either way may bend."""
        other, other_bent = self.poses[b], self.bent[b]
        if b not in self.trees:
            self.trees[b] = cKDTree(other)
        near = np.isfinite(self.trees[b].query(poses, distance_upper_bound=self.near_m)[0])
        if bent.any() or other_bent.any():
            apart, at = cKDTree(other[:, :3]).query(poses[:, :3])
            ahead = (poses[:, 3:] * other[at, 3:]).sum(axis=1) > 0.0
            allowed = bent + other_bent[at]
            near |= ahead & (allowed > 0.0) & (apart <= self.near_m + allowed)
        return float(np.mean(near))


def _routes(shares: _Shares, rides: dict[int, str]) -> list[list[int]]:
    """Return routes, each led by the trace that most others run with; the lead stands first."""
    free, routes, tried = sorted(rides), list[list[int]](), set[int]()
    while pool := _pool([i for i in free if i not in tried]):
        alike = {i: [j for j in free if j != i and shares.belongs(j, i)] for i in pool}
        lead = max(pool, key=lambda i: (len(alike[i]), -i))
        route = [lead, *alike[lead]]
        if len(route) == 1:
            tried.update(pool)
        elif any(_no_route_of_its_own(shares, route, other, rides) for other in routes):
            tried.update(route)
        else:
            routes.append(route)
            free = [i for i in free if i not in route]
    return sorted(routes, key=lambda route: (-len(route), min(route)))


def _no_route_of_its_own(shares: _Shares, route: list[int], other: list[int], rides: dict[int, str]) -> bool:
    """Return whether traces that are alike are one odd ride, or a few parts, of another route."""
    one_ride = len({rides[i] for i in route}) == 1
    few = FEW * len(route) <= len(other)
    odd = one_ride and shares.both(route[0], other[0]) >= SAME_WAY
    return odd or (few and shares.is_part(route[0], other[0]))


def _nearest(shares: _Shares, routes: list[list[int]]) -> list[list[int]]:
    """Return the routes with every trace at the lead that it shares most with."""
    out = [[route[0]] for route in routes]
    for number, route in enumerate(routes):
        for i in route[1:]:
            both = [shares.both(i, lead) for lead, *_ in out]
            best = int(np.argmax(both))
            out[best if both[best] > both[number] + NEARER else number].append(i)
    return out


def _pool(free: list[int]) -> list[int]:
    if len(free) <= 3 * POOL:
        return free
    return [free[k] for k in evenly(len(free), POOL)]
