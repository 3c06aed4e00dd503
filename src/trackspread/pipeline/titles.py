"""Names and titles of routes: outward and homeward, where two are one way, there and back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from trackspread.geometry.sphere import places_m
from trackspread.model import Floats, RouteResult, Witness
from trackspread.model.arrays import earliest

SAME_WAY = 0.7
"""The share of each of two routes that must lie beside the other, as for traces of one route."""
POSE_STEP_M = 25.0  # m between places of a way


def name_of_route(number: int) -> str:
    """Return the name of a route: A, B, …, Z, AA, AB, …

    Parameters
    ----------
    number : int
        From 0.

    Returns
    -------
    str

    Examples
    --------
    >>> name_of_route(0), name_of_route(26)
    ('Route A', 'Route AA')
    """
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return f"Route {letters}"


def given_title(witnesses: Iterable[Witness]) -> str:
    """Return what the table of rides calls a route: the name that most of its traces have, or "".

    Parameters
    ----------
    witnesses : iterable of Witness
        The traces of one route.

    Returns
    -------
    str
    """
    names = Counter(witness.route for witness in witnesses if witness.route)
    return max(names, key=lambda name: (names[name], name)) if names else ""


def titled(routes: Sequence[RouteResult], corridor_m: float) -> tuple[RouteResult, ...]:
    """Return the routes with the titles *Outward* and *Homeward* where two are one way, there and back.

    Of the two, the one that was ridden first is outward; without times, the one that comes first.
    Several such pairs are numbered. Titles that are there already stay.

    Parameters
    ----------
    routes : sequence of RouteResult
        All of one analysis.
    corridor_m : float
        How far apart two ways of one street may lie, metres.

    Returns
    -------
    tuple of RouteResult
        In the same order.
    """
    out = list(routes)
    pairs = _pairs(out, corridor_m)
    for number, (first, second) in enumerate(pairs, start=1):
        mark = f" {number}" if len(pairs) > 1 else ""
        out[first] = replace(out[first], title=out[first].title or f"Outward{mark}")
        out[second] = replace(out[second], title=out[second].title or f"Homeward{mark}")
    return tuple(out)


def _pairs(routes: Sequence[RouteResult], corridor_m: float) -> list[tuple[int, int]]:
    """Return which routes are there and back, each in one pair at most, the outward one first."""
    taken: set[int] = set()
    pairs = []
    for first in range(len(routes)):
        for second in range(first + 1, len(routes)):
            if {first, second} & taken or not _is_back(routes[first], routes[second], corridor_m):
                continue
            taken |= {first, second}
            starts = _began_s(routes[first]), _began_s(routes[second])
            pairs.append((second, first) if starts[1] < starts[0] else (first, second))
    return pairs


def _is_back(route: RouteResult, other: RouteResult, corridor_m: float) -> bool:
    """Whether most of each route lies beside the other, and is travelled the other way there."""
    mine, others = poses_of(route), poses_of(other)
    return min(_share_back(mine, others, corridor_m), _share_back(others, mine, corridor_m)) >= SAME_WAY


def poses_of(route: RouteResult) -> tuple[Floats, Floats]:
    """Return places along a route and directions of travel there, every `POSE_STEP_M`.

    Parameters
    ----------
    route : RouteResult

    Returns
    -------
    place, direction : ndarray, shape (P, 3)
        Metres.
    """
    at = np.arange(route.station_m[0], route.station_m[-1], POSE_STEP_M)
    lon = np.interp(at, route.station_m, route.lon_deg)
    place = places_m(lon, np.interp(at, route.station_m, route.lat_deg))
    return place, np.gradient(place, axis=0) if len(place) > 1 else np.zeros_like(place)


def _share_back(mine: tuple[Floats, Floats], others: tuple[Floats, Floats], corridor_m: float) -> float:
    """Return the share of the poses beside which the other route runs the other way."""
    return float((apart_m(mine, others, -1) <= corridor_m).mean())


def apart_m(mine: tuple[Floats, Floats], others: tuple[Floats, Floats], sense: int) -> Floats:
    """Return how far from each pose of one route the other lies, infinite where it runs another way there.

    Parameters
    ----------
    mine, others : (ndarray, ndarray)
        Poses of both (`poses_of`).
    sense : int
        1: the other runs the same way; -1: the opposite one.

    Returns
    -------
    ndarray, shape (P,)
        Metres.
    """
    distance_m, nearest = cKDTree(others[0]).query(mine[0])
    along = sense * (mine[1] * others[1][nearest]).sum(axis=1)
    return np.where(along > 0.0, distance_m, np.inf)


def _began_s(route: RouteResult) -> float:
    """Return when the route was ridden first, seconds UTC; infinite where no trace has times."""
    return earliest([trace.time_s for trace in route.traces])
