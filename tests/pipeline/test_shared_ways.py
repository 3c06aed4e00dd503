"""Routes that share half of the way say so of each other, with the corridor that makes one of them."""

from __future__ import annotations

import dataclasses
import re

import pytest

from records import make_analysis
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.pipeline.shared_ways import with_shared_ways
from trackspread.results.words.reasons import said
from world import simulate
from world.faults import Fault
from world.witnesses import as_witnesses

ROUTE = dataclasses.replace(make_analysis(routes=1).routes[0], notes=())


def of_two_ways(aside_m: float, corridor_m: float = 40.0):
    """Return the routes of six rides of 3 km, three of which go another way over 1.2 km."""
    faults = [Fault(kind="detour", from_m=1000, to_m=2200, offset_m=aside_m, ride=ride) for ride in (3, 4, 5)]
    world = simulate("straight", seed=6, rides=6, length_m=3000, faults=faults)
    return analyse(as_witnesses(world), Options(corridor_m=corridor_m)).routes


@pytest.mark.parametrize("aside_m", [60.0, 150.0])
def test_the_corridor_that_is_told_makes_one_route_with_a_variant(aside_m: float) -> None:
    told = [said(note) for route in of_two_ways(aside_m) for note in route.notes]
    assert len(told) == 2
    shared = re.match(r"shares (\d\.\d\d) km with Route B, too little .* --corridor (\d+) makes", told[0])
    assert shared
    assert float(shared[1]) == pytest.approx(1.8, abs=0.15)
    (one,) = of_two_ways(aside_m, float(shared[2]))
    assert len(one.traces) == 6
    assert len(one.variants) == 1
    assert not [note for note in one.notes if note.code == "shared_way"]


def test_ways_that_no_corridor_holds_are_told_without_a_remedy() -> None:
    told = [said(note) for route in of_two_ways(400.0) for note in route.notes]
    assert len(told) == 2
    assert not any("--corridor" in note for note in told)


def test_the_way_back_and_a_way_elsewhere_are_not_shared() -> None:
    back = dataclasses.replace(ROUTE, lon_deg=ROUTE.lon_deg[::-1], lat_deg=ROUTE.lat_deg[::-1])
    away = dataclasses.replace(ROUTE, lat_deg=ROUTE.lat_deg + 0.01)
    assert not any(route.notes for route in with_shared_ways([ROUTE, back, away], 40.0))
