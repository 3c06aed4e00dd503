"""A recording that went on elsewhere counts by its parts, where these lie on routes; ferries stay whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackspread.model import Trace, Witness
from trackspread.rides.resumed import ELSEWHERE
from trackspread.rides.sorting import sorted_into_routes
from world import SHAPES, simulate
from world.globe import Globe
from world.witnesses import as_witnesses

FIELDS = ("time_s", "lon_deg", "lat_deg", "elevation_m", "break_before")


def ridden(seed: int, start_s: float, lat_deg: float, rides: int = 3) -> list[Witness]:
    """Return rides of one way; other seeds and latitudes are other ways."""
    way = SHAPES["winding"](np.random.default_rng(seed), 1500.0, False)
    globe = Globe(lon_deg=-84.0, lat_deg=lat_deg)
    world = simulate(way, seed=seed, rides=rides, lights=0, first_start_s=start_s, globe=globe)
    every = as_witnesses(world)
    return [replace(w, ride="", trace=replace(w.trace, file=f"{seed}_{n}.gpx")) for n, w in enumerate(every)]


def joined(one: Trace, other: Trace, pause_s: float) -> Trace:
    moved = replace(other, time_s=other.time_s - other.time_s[0] + one.time_s[-1] + pause_s)
    return replace(one, **{f: np.concatenate([getattr(one, f), getattr(moved, f)]) for f in FIELDS})


@pytest.mark.parametrize("known", ["both", "the second"])
def test_who_went_on_elsewhere_counts_where_a_part_lies_on_a_route(known: str) -> None:
    here, there = ridden(1, 1.9e9, 75.2, 4), ridden(2, 1.91e9, 75.3, 4)
    both = replace(here[3], trace=joined(here[3].trace, there[3].trace, 1500.0))
    others = [*here[:3], *there[:3]] if known == "both" else there[:3]
    every, groups = sorted_into_routes([*others, both], 40.0, False)
    first, second = len(others), len(others) + 1
    assert [w.trace.file for w in every[first:]] == ["1_3.gpx#1", "1_3.gpx#2"]
    assert second in next(route for route in groups.routes if first - 1 in route)
    assert (first in groups.strays) == (known == "the second")
    assert [f.code for f in every[first].trace.findings] == [ELSEWHERE]


def test_a_ferry_that_all_took_and_a_stray_that_fits_nowhere_stay_whole() -> None:
    here, there = ridden(1, 1.9e9, 75.2), ridden(2, 1.91e9, 75.3)
    crossed = [replace(a, trace=joined(a.trace, b.trace, 1500.0)) for a, b in zip(here, there, strict=True)]
    far = ridden(3, 1.92e9, 75.4)
    lost = replace(far[0], trace=joined(far[0].trace, ridden(4, 1.93e9, 75.5)[0].trace, 1500.0))
    every, groups = sorted_into_routes([*crossed, lost], 40.0, False)
    assert len(every) == 4
    assert groups.routes == ((0, 1, 2),)
    assert not every[3].trace.findings
