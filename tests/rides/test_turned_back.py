"""A recording of a way there and back is cut where it turned; dead ends, loops, laps and hairpins are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackspread.model import Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.rides.resumed import LATER_RIDE, with_rides_apart
from trackspread.rides.turned_back import THERE_AND_BACK, turning_point
from world import SHAPES, Receiver, Route, simulate
from world.routes import route_along
from world.witnesses import as_witnesses

CORRIDOR_M = 40.0
FIELDS = ("time_s", "lon_deg", "lat_deg", "elevation_m", "break_before")


def way_of(shape: str = "winding", length_m: float = 2000.0) -> Route:
    return SHAPES[shape](np.random.default_rng(8), length_m, False)


def beside(way: Route, right_m: float) -> np.ndarray:
    """Return the points (P, 2) of the right side of a street."""
    return np.stack([way.east_m, way.north_m], axis=1) + right_m * way.right(way.station_m)


def to_and_fro(way: Route, legs: int = 2, right_m: float = 3.0) -> Route:
    """Return a way ridden so many times, each time the other way about."""
    sides = [beside(way if leg % 2 == 0 else way.reversed(), right_m) for leg in range(legs)]
    return route_along(np.concatenate(sides))


def behind_a_stem(share: float) -> Route:
    """Return a way out, once around a loop, and back, of which so much is the stem."""
    stem = way_of("straight")
    radius = stem.length_m * (1.0 / share - 1.0) / np.pi
    turn = np.linspace(0.0, 2.0 * np.pi, 400)[:, None]
    ahead, right = stem.direction(np.array([2000.0])), stem.right(np.array([2000.0]))
    loop = stem.at(np.array([2000.0])) + radius * ((1.0 - np.cos(turn)) * right + np.sin(turn) * ahead)
    return route_along(np.concatenate([beside(stem, 3.0), loop, beside(stem.reversed(), 3.0)]))


def ridden(way: Route, rides: int = 1, watches: int = 1, start_s: float = 1.9e9) -> list[Witness]:
    names = [Receiver(name=name) for name in ("alder", "birch")[:watches]]
    world = simulate(way, seed=4, rides=rides, receivers=names, lights=0, first_start_s=start_s)
    return as_witnesses(world)


def cut(way: Route) -> float:
    """Return the share of the points at which it turns, 0 where it is not cut."""
    trace = ridden(way)[0].trace
    return turning_point(trace, CORRIDOR_M) / len(trace.time_s)


@pytest.mark.parametrize("length_m", [400.0, 3000.0, 12_000.0])
@pytest.mark.parametrize("shape", ["winding", "city", "hairpins", "figure of eight"])
def test_a_way_there_and_back_is_cut_where_it_turns(shape: str, length_m: float) -> None:
    way = way_of(shape, length_m)
    trace = ridden(to_and_fro(way))[0].trace
    turn = turning_point(trace, CORRIDOR_M)
    steps = np.hypot(np.diff(trace.lon_deg) * np.cos(np.radians(trace.lat_deg[0])), np.diff(trace.lat_deg))
    assert steps[:turn].sum() == pytest.approx(steps[turn:].sum(), abs=60.0 / 111_195.0, rel=0.03)
    assert turning_point(ridden(way)[0].trace, CORRIDOR_M) == 0


@pytest.mark.parametrize("legs", [3, 4, 5, 6, 8])
def test_shuttles_are_no_way_there_and_back(legs: int) -> None:
    assert cut(to_and_fro(way_of(length_m=500.0), legs)) == 0.0


@pytest.mark.parametrize("share", [0.3, 0.6, 0.8])
def test_a_loop_behind_a_shared_first_part_stays_one_ride(share: float) -> None:
    assert cut(behind_a_stem(share)) == 0.0


def test_a_turn_around_the_block_at_the_far_end_is_no_loop() -> None:
    assert cut(behind_a_stem(0.96)) == pytest.approx(0.5, abs=0.1)


def test_two_sides_of_a_long_block_stay_one_ride() -> None:
    assert cut(to_and_fro(way_of("straight"), right_m=15.0)) == 0.0


def test_it_joins_the_rides_of_either_way() -> None:
    """It was set aside: it had more of the way than either route."""
    way = way_of()
    others = [*ridden(way, 3), *ridden(way.reversed(), 3, start_s=1.91e9)]
    both = ridden(to_and_fro(way), start_s=1.92e9)
    named = [
        replace(w, ride=str(n), trace=replace(w.trace, file=f"{n}.gpx"))
        for n, w in enumerate([*others, *both])
    ]
    found = analyse(named, Options())
    assert [(len(route.traces), route.title) for route in found.routes] == [(4, "Outward"), (4, "Homeward")]
    assert min(trace.coverage for route in found.routes for trace in route.traces) > 0.95
    assert [f.code for f in found.inputs[-2].findings] == [THERE_AND_BACK]
    home = found.routes[1].traces[-1].first_fix
    assert np.isnan(home.value_s)
    assert home.reason.code == LATER_RIDE


def test_a_companion_of_one_half_keeps_its_companion() -> None:
    whole, other = ridden(to_and_fro(way_of()), watches=2)
    stopped = {name: getattr(other.trace, name)[: turning_point(other.trace, CORRIDOR_M)] for name in FIELDS}
    out, home, beside = with_rides_apart(
        [whole, replace(other, trace=replace(other.trace, **stopped))], CORRIDOR_M
    )
    assert beside.ride == out.ride != home.ride
