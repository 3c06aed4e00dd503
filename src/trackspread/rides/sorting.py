"""From recordings to rides on routes: rests, rides of one recording, laps, routes."""

from __future__ import annotations

from collections.abc import Sequence

from trackspread.model import Witness
from trackspread.rides.laps import numbered, with_laps
from trackspread.rides.rests import without_rests
from trackspread.rides.resumed import ELSEWHERE, cut_at, leaps, with_rides_apart
from trackspread.rides.rode_on import RODE_ON, ends_on_route
from trackspread.rides.routes import PART_OF_WAY, Grouping, grouped


def sorted_into_routes(
    witnesses: Sequence[Witness], corridor_m: float, laps: bool
) -> tuple[list[Witness], Grouping]:
    """Return the rides that recordings hold, and which of them share a route.

    A recording that belongs to no route, but stopped for long and went on elsewhere, or holds a whole route
    and more, is cut there if a piece of it then does.

    Parameters
    ----------
    witnesses : sequence of Witness
        All recordings.
    corridor_m : float
        Half width of the corridor in which ways are one, metres.
    laps : bool
        Whether recordings of laps are split in any case.

    Returns
    -------
    every : list of Witness
        One a ride of a recording, named by its file and number.
    groups : Grouping
        Of these.
    """
    apart = with_rides_apart(without_rests(witnesses), corridor_m)
    every = with_laps(apart, corridor_m, always=laps)
    groups = _grouped(every, corridor_m)
    cuts = {i: _where_cut(i, every, groups, corridor_m) for i in groups.strays}
    if any(cuts.values()):
        owner = [i for i in range(len(every)) for _ in range(1 + len(cuts.get(i, ())))]
        tried = _grouped(cut_at(every, cuts), corridor_m)
        found = {owner[k] for route in tried.routes for k in route}
        every = cut_at(every, {i: where for i, where in cuts.items() if i in found})
        groups = _grouped(every, corridor_m)
    return list(numbered(every)), groups


def _where_cut(stray: int, every: Sequence[Witness], groups: Grouping, corridor_m: float) -> dict[int, str]:
    """Return the points at which a stray may be cut, and the code of why."""
    trace = every[stray].trace
    cuts = dict.fromkeys(leaps(trace).tolist(), ELSEWHERE)
    held = dict(groups.strays[stray].values).get("held")
    if cuts or not (isinstance(held, float) and held >= PART_OF_WAY):
        return cuts
    members = [every[k].trace for k in groups.routes[groups.nearest[stray]]]
    return dict.fromkeys(ends_on_route(trace, members, corridor_m), RODE_ON)


def _grouped(every: Sequence[Witness], corridor_m: float) -> Grouping:
    return grouped([w.trace for w in every], corridor_m, [w.ride for w in every])
