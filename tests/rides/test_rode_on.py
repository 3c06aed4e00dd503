"""A recording that holds a whole route and goes on elsewhere counts by the part on the route."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackspread.model import Witness
from trackspread.rides.rode_on import RODE_ON, ends_on_route
from trackspread.rides.sorting import sorted_into_routes
from world import Route, simulate
from world.routes import rounded
from world.witnesses import as_witnesses

MIDDLE = [(0.0, 0.0), (900.0, 0.0), (900.0, 700.0)]
BEFORE, AFTER = [(-500.0, -1500.0), (-500.0, 0.0)], [(900.0, 2400.0), (-900.0, 2400.0)]


def street(corners: list[tuple[float, float]]) -> Route:
    return rounded(np.array(corners), 20.0)


def ridden(way: Route, name: str, start_s: float, rides: int = 1) -> list[Witness]:
    world = simulate(way, seed=5, rides=rides, lights=0, first_start_s=start_s)
    every = as_witnesses(world)
    return [replace(w, ride="", trace=replace(w.trace, file=f"{name}_{n}.gpx")) for n, w in enumerate(every)]


@pytest.mark.parametrize(
    ("way", "pieces", "on"),
    [
        (BEFORE + MIDDLE, 2, 1),
        (MIDDLE + AFTER, 2, 0),
        (BEFORE + MIDDLE + AFTER, 3, 1),
    ],
    ids=["came from elsewhere", "rode on", "both"],
)
def test_the_part_on_the_route_counts(way: list[tuple[float, float]], pieces: int, on: int) -> None:
    """It was set aside though it holds the whole route."""
    others = ridden(street(MIDDLE), "short", 1.9e9, 3)
    every, groups = sorted_into_routes([*others, *ridden(street(way), "long", 1.91e9)], 40.0, False)
    assert len(every) == 3 + pieces
    assert groups.routes == ((0, 1, 2, 3 + on),)
    assert [f.code for f in every[3].trace.findings] == [RODE_ON]


def test_who_rides_another_middle_part_holds_no_whole_route() -> None:
    others = ridden(street(MIDDLE), "short", 1.9e9, 3)
    another = ridden(street([(0.0, 0.0), (0.0, 700.0), (900.0, 700.0)]), "other", 1.91e9)
    every, groups = sorted_into_routes([*others, *another], 40.0, False)
    assert (len(every), len(groups.strays)) == (4, 1)
    assert not every[3].trace.findings


def test_little_beyond_is_not_cut_off() -> None:
    members = [w.trace for w in ridden(street(MIDDLE), "short", 1.9e9, 3)]
    longer = ridden(street([*MIDDLE, (900.0, 760.0)]), "long", 1.91e9)[0].trace
    assert ends_on_route(longer, members, 40.0) == []
