"""Figures that every ride has one of, and the exact tests of two or more receivers by them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from itertools import combinations
from types import MappingProxyType

import numpy as np

from trackspread.model import Basis, RideDifference, RideFigure, RouteResult, TraceResult
from trackspread.pipeline.ridden import Ridden, is_shared, name_of_ride
from trackspread.statistics.exact_tests import all_alike, rank_sum, signed_ranks

ByRide = Mapping[tuple[str, tuple[str, ...]], float]
"""A figure by ride and the routes on which it is known."""


def by_ride(
    tables: Sequence[Ridden], receiver: str, value: Callable[[RouteResult, TraceResult], float]
) -> ByRide:
    """Return a figure of each ride: its mean over the routes on which it is known.

    Of a recording in parts the first one counts that has it.

    Parameters
    ----------
    tables : sequence of Ridden
        All routes.
    receiver : str
        Its name.
    value : callable
        Gives the figure of a trace of a route; NaN = not known.

    Returns
    -------
    ByRide
        By the names of the ride and of its routes.
    """
    known: dict[str, dict[str, float]] = {}
    for table in tables:
        for trace in table.route.traces:
            if trace.receiver == receiver and np.isfinite(found := value(table.route, trace)):
                known.setdefault(name_of_ride(trace), {}).setdefault(table.route.name, found)
    return {(ride, tuple(on)): float(np.mean(list(on.values()))) for ride, on in known.items()}


def astray_m(route: RouteResult, trace: TraceResult) -> list[float]:
    """Return the lengths of the stretches of a trace; the rider's other way and settling are none.

    Parameters
    ----------
    route : RouteResult
        Its route.
    trace : TraceResult
        One of its traces.

    Returns
    -------
    list of float
        Metres.
    """
    return [
        stretch.to_m - stretch.from_m
        for stretch in route.stretches
        if stretch.number == trace.number and stretch.cause not in ("line", "settling")
    ]


def _first_fix(route: RouteResult, trace: TraceResult) -> float:
    return trace.first_fix.value_s


def _share_astray(route: RouteResult, trace: TraceResult) -> float:
    if not np.isfinite(route.deviation_m[trace.number]).any():
        return float("nan")
    return sum(astray_m(route, trace)) / max(trace.coverage * route.length_m, 1.0)


FIGURES: Mapping[RideFigure, Callable[[RouteResult, TraceResult], float]] = MappingProxyType(
    {"first_fix": _first_fix, "stray_share": _share_astray}
)
"""Not the settled fix: it follows the first one, and a test of it would cost the others power."""


def compared_by_ride(
    figure: RideFigure, order: Sequence[str], rides: Sequence[ByRide]
) -> list[RideDifference | None]:
    """Return the exact test of every two receivers by a figure, ``None`` where there is none.

    Parameters
    ----------
    figure : str
    order : sequence of str, length n
        Names of the receivers.
    rides : sequence of ByRide, length n
        Their figures.

    Returns
    -------
    list of RideDifference or None
        In the order of ``itertools.combinations``; ``p_adjusted`` is not known yet.
    """
    return [
        _test(figure, (order[i], order[j]), (rides[i], rides[j]))
        for i, j in combinations(range(len(order)), 2)
    ]


def _test(figure: RideFigure, names: tuple[str, str], known: tuple[ByRide, ByRide]) -> RideDifference | None:
    """Return the exact test of two receivers by a figure, on shared rides if there are two, else on all."""
    both = [key for key in known[0] if key in known[1] and is_shared(key[0])]
    basis: Basis = "together" if len(both) > 1 else "apart"
    keys = (both, both) if basis == "together" else tuple(list(one) for one in known)
    values = [np.array([one[key] for key in chosen]) for one, chosen in zip(known, keys, strict=True)]
    test = signed_ranks(values[0] - values[1]) if basis == "together" else rank_sum(*values)
    if test is None:
        return None
    return RideDifference(
        figure=figure, a=names[0], b=names[1], rides=min(map(len, keys)), basis=basis,
        difference=float(np.median(values[0]) - np.median(values[1])), p=test.p, smallest_p=test.smallest,
        p_adjusted=float("nan"), told_apart=False,
    )  # fmt: skip


def all_alike_by_ride(rides: Sequence[ByRide], members: Sequence[int]) -> float:
    """Return the p of several receivers being alike by a figure, rides that they share being blocks.

    Parameters
    ----------
    rides : sequence of ByRide
        The figures of all receivers.
    members : sequence of int
        Those of the set.

    Returns
    -------
    float
        NaN where no ride has the figure.
    """
    crew = Counter(key for k in members for key in rides[k] if is_shared(key[0]))
    rows = [
        (value, place, key if crew[key] > 1 else ("", key[1]))
        for place, k in enumerate(members)
        for key, value in rides[k].items()
    ]
    if not rows:
        return float("nan")
    values, receiver, blocks = zip(*rows, strict=True)
    number = {block: n for n, block in enumerate(dict.fromkeys(blocks))}
    return all_alike(np.array(values), np.array(receiver), np.array([number[block] for block in blocks]))
