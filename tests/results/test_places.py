"""Places for maps and layers: where a trace runs in its stretch, and where its fixes are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackspread.model import RouteResult
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.results.places import fix_positions, trace_between
from world import Fault, World, simulate
from world.witnesses import as_witnesses


@pytest.fixture(scope="module")
def far_off() -> tuple[World, RouteResult]:
    """One receiver begins 120 m aside, twice as far as matching reaches, and comes in over 100 s."""
    slow = Fault(kind="settling", ride=1, offset_m=120.0, seconds=100.0)
    world = simulate("straight", seed=1, rides=5, length_m=2500, lights=0, faults=[slow])
    return world, analyse(as_witnesses(world), Options()).routes[0]


def test_a_settling_stretch_is_drawn_from_the_first_point_on(far_off: tuple[World, RouteResult]) -> None:
    world, route = far_off
    (stretch,) = [s for s in route.stretches if s.number == 1]
    assert (stretch.cause, stretch.from_m < 30) == ("settling", True)
    (line,) = trace_between(route, stretch)
    first = world.recordings[1]
    assert (line[0][0], line[1][0]) == (first.lon_deg[0], first.lat_deg[0])
    ends = np.interp(stretch.to_m, route.station_m, route.lon_deg)
    assert line[0][-1] == pytest.approx(ends, abs=2e-3)


def test_the_first_fix_is_where_the_first_point_is(far_off: tuple[World, RouteResult]) -> None:
    world, route = far_off
    for recording, trace in zip(world.recordings, route.traces, strict=True):
        places = fix_positions(trace)
        assert places["first"] == (recording.lon_deg[0], recording.lat_deg[0])
        settled = world.globe.to_plane(*map(np.array, places["settled"]))
        assert settled[0] == pytest.approx(
            trace.settled_fix.at_station_m + route_start_m(world, route), abs=15
        )


def route_start_m(world: World, route: RouteResult) -> float:
    """Return how far east of the world's origin the found line starts; the road runs due east."""
    return float(world.globe.to_plane(route.lon_deg[:1], route.lat_deg[:1])[0][0])


def test_a_trace_that_is_nowhere_on_the_route_has_no_places(far_off: tuple[World, RouteResult]) -> None:
    trace = far_off[1].traces[0]
    lost = replace(trace, station_m=np.full(len(trace.station_m), np.nan))
    assert fix_positions(lost) == {}
    hidden = replace(trace, first_fix=replace(trace.first_fix, at_station_m=float("nan")))
    assert set(fix_positions(hidden)) == {"settled"}
