"""Grouping: one corridor and one direction make a route, wherever on earth; who fits none is told why."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from polylines import along
from trackspread.model import Finding, Reason, Trace
from trackspread.results.words.reasons import said
from trackspread.rides.routes import Grouping, grouped, poses
from world import SHAPES, Globe

CORRIDOR_M = 40.0
HERE = Globe(lon_deg=-84.0, lat_deg=75.2)
PLACES = [
    Globe(lon_deg=179.999, lat_deg=-51.0),
    Globe(lon_deg=15.0, lat_deg=89.995),
    Globe(lon_deg=0.0, lat_deg=0.0),
]
LINE = [(0.0, 0.0), (900.0, 0.0), (900.0, 700.0), (1800.0, 700.0)]


def texts(found: Grouping) -> dict[int, str]:
    """Return why traces belong to no route, in words."""
    return {number: said(reason) for number, reason in found.strays.items()}


def trace(
    points: np.ndarray, globe: Globe = HERE, sd_m: float = 3.0, seed: int = 1, start_s: float = 0.0
) -> Trace:
    """Return a trace through points of the plane with an error of ``sd_m`` for the whole of it."""
    moved = points + np.random.default_rng(seed).normal(0.0, sd_m, 2)
    lon, lat = globe.to_lonlat(moved[:, 0], moved[:, 1])
    size = len(lon)
    return Trace(
        file=f"{seed}.gpx", format="GPX 1.1", time_s=start_s + np.arange(size, dtype=float),
        lon_deg=lon, lat_deg=lat, elevation_m=np.full(size, np.nan), break_before=np.zeros(size, bool),
    )  # fmt: skip


def rides(
    points: np.ndarray, count: int, globe: Globe = HERE, first: int = 0, start_s: float = 0.0
) -> list[Trace]:
    return [trace(points, globe, seed=first + k, start_s=start_s + 1e5 * k) for k in range(count)]


def groups(traces: list[Trace]) -> Grouping:
    return grouped(traces, CORRIDOR_M)


@pytest.mark.parametrize("globe", [HERE, *PLACES], ids=["inland", "antimeridian", "pole", "null island"])
def test_out_and_back_are_two_routes_wherever_on_earth(globe: Globe) -> None:
    points = along(LINE, 6.0)
    found = groups([*rides(points, 3, globe), *rides(points[::-1], 2, globe, 10, 5e5)])
    assert found.routes == ((0, 1, 2), (3, 4))
    assert found.strays == {}


@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_every_shape_is_one_route(shape: str) -> None:
    route = SHAPES[shape](np.random.default_rng(3), 2000.0, False)
    points = route.at(np.arange(0.0, route.length_m, 6.0))
    assert groups(rides(points, 4)).routes == ((0, 1, 2, 3),)


@pytest.mark.parametrize(("shared_m", "routes"), [(900.0, 2), (1300.0, 2), (2200.0, 1)])
def test_routes_that_share_part_of_their_way_stay_apart(shared_m: float, routes: int) -> None:
    """Both 2,500 m long: below 70 % of shared way they are two."""
    one = along([(0, 0), (2500, 0)], 6.0)
    other = along([(0, 0), (shared_m, 0), (shared_m, 2500 - shared_m)], 6.0)
    found = groups([*rides(one, 3), *rides(other, 3, first=10)])
    assert len(found.routes) == routes
    assert sorted(i for route in found.routes for i in route) == list(range(6))


@pytest.mark.parametrize("apart_m", [25.0, 90.0])
def test_parallel_roads_are_one_route_only_within_the_corridor(apart_m: float) -> None:
    one = along([(0, 0), (1500, 0)], 6.0)
    found = groups([*rides(one, 2), *rides(one + np.array([0.0, apart_m]), 2, first=10)])
    assert len(found.routes) == (1 if apart_m < CORRIDOR_M else 2)


@pytest.mark.parametrize(
    "piece",
    [slice(140, None), slice(None, 200), slice(150, 260)],
    ids=["late fix", "stopped early", "middle"],
)
def test_a_trace_of_part_of_the_way_belongs_to_the_route(piece: slice) -> None:
    points = along(LINE, 6.0)
    found = groups([*rides(points, 3), trace(points[piece], seed=20)])
    assert found.routes == ((0, 1, 2, 3),)


def test_a_trace_of_too_small_a_part_is_set_aside_with_the_figures() -> None:
    points = along(LINE, 6.0)
    found = groups([*rides(points, 3), trace(points[:60], seed=20)])
    assert found.routes == ((0, 1, 2),)
    reason = said(found.strays[3])
    assert reason.startswith("100% of its way is shared with the nearest route, and it covers 1")
    assert reason.endswith("70% of both are needed")


def test_a_trace_that_goes_on_far_beyond_the_route_is_set_aside_with_the_figures() -> None:
    short = along([(0, 0), (1000, 0)], 6.0)
    long = along([(0, 0), (3000, 0)], 6.0)
    found = groups([*rides(short, 3), trace(long, seed=20)])
    assert found.routes == ((0, 1, 2),)
    assert said(found.strays[3]).startswith("3")
    assert "it covers 100% of that route" in said(found.strays[3])


def test_a_lonely_trace_is_told_so() -> None:
    found = groups([*rides(along(LINE, 6.0), 2), trace(along([(0, 5000), (900, 5000)], 6.0), seed=20)])
    assert texts(found) == {2: "no other trace runs this way in this direction"}


def test_a_trace_of_the_way_back_alone_is_told_its_direction() -> None:
    points = along(LINE, 6.0)
    found = groups([*rides(points, 3), trace(points[::-1], seed=20), trace(points[200::-1], seed=21)])
    assert found.routes == ((0, 1, 2),)
    words = "it runs the way of a route in the other direction, and no other trace does"
    assert texts(found) == {3: words, 4: words}


def test_traces_that_say_too_little_are_set_aside_with_the_figure() -> None:
    whole = rides(along(LINE, 6.0), 2)
    few = trace(along(LINE, 500.0)[:4], seed=20)
    still = trace(along([(0, 0), (80, 0)], 4.0), seed=21)
    found = groups([few, *whole, still])
    assert found.routes == ((1, 2),)
    assert texts(found)[0] == "fewer than 5 usable points: 4 of 4 read"
    assert texts(found)[3] == "it stays within 80 m; a route needs 100 m"


def test_few_points_say_how_many_were_read_and_why_the_rest_fell() -> None:
    lost = Finding(code="bad position", count=40, text="", first_place="")
    few = replace(trace(along(LINE, 500.0)[:4], seed=20), points_set_aside=40, findings=(lost,))
    assert texts(groups([few]))[0] == "fewer than 5 usable points: 4 of 44 read (40 bad position)"


@pytest.mark.parametrize("turned", [1, 3], ids=["one ride the other way", "three rides the other way"])
def test_the_other_way_round_a_circuit_with_a_shared_lane_is_the_other_direction(turned: int) -> None:
    """A lane out to a circuit, once around, and back by the lane: what is shared forwards is the lane only."""
    lane = along([(0, 0), (0, 400)], 6.0)
    round_ = along([(0, 400), (400, 400), (400, 900), (-400, 900), (-400, 400), (0, 400)], 6.0)
    there = np.concatenate([lane, round_, lane[::-1]])
    back = np.concatenate([lane, round_[::-1], lane[::-1]])
    found = groups([*rides(there, 3), *rides(back, turned, first=10, start_s=9e6)])
    if turned > 1:
        assert found.routes == ((0, 1, 2), (3, 4, 5))
    else:
        assert texts(found) == {
            3: "it runs the way of a route in the other direction, and no other trace does"
        }


def test_a_reason_speaks_of_no_route_that_came_to_nothing() -> None:
    points = along(LINE, 6.0)
    found = groups([*rides(points, 2), trace(points[:60], seed=20)])
    assert found.without({}) == found.strays
    because = Reason("one_recording")
    assert found.without({0: because}) == {2: Reason.of("dissolved", because=because)}


def test_nothing_and_one_alone_make_no_route() -> None:
    assert groups([]) == Grouping(routes=(), strays={})
    alone = groups(rides(along(LINE, 6.0), 1))
    assert alone.routes == ()
    assert texts(alone) == {0: "no other trace runs this way in this direction"}


def test_an_untidy_ride_is_still_the_route() -> None:
    """One detour, standing still and a gap leave more than 70 % of the way shared."""
    points = along(LINE, 6.0)
    detour = np.concatenate(
        [points[:150], along([(900, 0), (1100, 0), (1100, 200), (900, 200)], 6.0), points[184:]]
    )
    standing = np.concatenate([points[:100], np.repeat(points[100:101], 400, axis=0), points[100:]])
    torn = np.concatenate([points[:120], points[190:]])
    found = groups(
        [*rides(points, 2), *(trace(p, seed=20 + k) for k, p in enumerate([detour, standing, torn]))]
    )
    assert found.routes == ((0, 1, 2, 3, 4),)


def test_the_route_with_most_traces_stands_first_then_the_one_ridden_first() -> None:
    a, b, c = (along([(0, y), (1200, y)], 6.0) for y in (0, 3000, 6000))
    traces = [
        *rides(a, 2, first=0, start_s=9e6),
        *rides(b, 2, first=10, start_s=1e6),
        *rides(c, 3, first=20, start_s=9e7),
    ]
    assert groups(traces).routes == ((4, 5, 6), (2, 3), (0, 1))


def variant(number: int, common: float, total_m: float = 4000.0) -> np.ndarray:
    """Return a way from home to work; the first is straight, the others leave it for a street of their own."""
    edge = total_m * common / 2
    side = 300.0 * ((number + 1) // 2) * (1 if number % 2 else -1)
    ways = [(edge, 0.0), (edge, side), (total_m - edge, side), (total_m - edge, 0.0)]
    return along([(0.0, 0.0), *(ways if number else []), (total_m, 0.0)], 6.0)


@pytest.mark.parametrize("common", [0.2, 0.4, 0.6, 0.7, 0.8])
@pytest.mark.parametrize("counts", [(4, 4), (5, 3), (4, 3, 2), (3, 3, 3, 3)], ids=str)
def test_variants_of_a_commute_are_routes_of_their_own(counts: tuple[int, ...], common: float) -> None:
    traces, expected = [], []
    for number, count in enumerate(counts):
        expected.append(tuple(range(len(traces), len(traces) + count)))
        traces += rides(variant(number, common), count, first=10 * number, start_s=4e6 * number)
    found = groups(traces)
    assert found.routes == tuple(expected)
    assert found.strays == {}


@pytest.mark.parametrize(("common", "shared", "covered"), [(0.2, 18, 21), (0.5, 44, 51), (0.7, 61, 71)])
def test_one_ride_over_another_bridge_is_set_aside_with_what_is_common(
    common: float, shared: int, covered: int
) -> None:
    """The other way is 600 m longer: 20 % of 4,000 m in common are 17 % of its 4,600 m, and so on."""
    found = groups([*rides(variant(0, common), 6), trace(variant(1, common), seed=20)])
    assert found.routes == (tuple(range(6)),)
    told = [int(n) for n in re.findall(r"(\d+)%", said(found.strays[6]))]
    assert told == [pytest.approx(shared, abs=2), pytest.approx(covered, abs=2), 70]


def test_one_ride_a_short_way_around_stays_with_its_route() -> None:
    found = groups([*rides(variant(0, 0.9), 6), trace(variant(1, 0.9), seed=20)])
    assert found.routes == (tuple(range(7)),)


@pytest.mark.parametrize(("same_ride", "routes"), [(True, 1), (False, 2)])
def test_two_receivers_of_one_odd_ride_make_no_route(same_ride: bool, routes: int) -> None:
    """80 % in common: one ride is a detour, two rides are a habit."""
    ways = [*rides(variant(0, 0.8, 8000.0), 6), *rides(variant(1, 0.8, 8000.0), 2, first=20)]
    names = [*"abcdef", "g", "g" if same_ride else "h"]
    assert len(grouped(ways, CORRIDOR_M, names).routes) == routes


def test_a_few_parts_that_are_alike_are_still_parts() -> None:
    """Two receivers found no fix before half of the way: no route of its own, but six of the kind are."""
    points = along(LINE, 6.0)
    late = points[len(points) // 2 :]
    assert groups([*rides(points, 6), *rides(late, 2, first=20)]).routes == (tuple(range(8)),)
    many = groups([*rides(points, 6), *rides(late, 6, first=20)])
    assert many.routes == (tuple(range(6)), tuple(range(6, 12)))


def test_a_straight_line_over_a_gap_is_no_way_ridden() -> None:
    """A valley without signal on every ride of one receiver: the chord runs far from the road."""
    points = along([(0, 0), (1000, 0), (1000, 600), (2000, 600), (2000, 0), (3000, 0)], 6.0)
    torn = np.concatenate([points[:175], points[365:]])
    found = groups([*rides(points, 4), *rides(torn, 3, first=20)])
    assert found.routes == (tuple(range(7)),)


def test_a_trace_on_the_edge_goes_with_those_it_shares_most_with() -> None:
    """Errors put some rides over the other bridge just within the first route's share, some just without."""
    rng = np.random.default_rng(5)
    traces = rides(variant(0, 0.81), 5)
    for k in range(5):
        moved = variant(1, 0.81) + rng.normal(0.0, 12.0, 2)
        traces.append(trace(moved, seed=50 + k, start_s=9e6 + k))
    assert groups(traces).routes == (tuple(range(5)), tuple(range(5, 10)))


@settings(max_examples=10, deadline=None, derandomize=True)
@given(st.permutations(range(9)))
def test_the_order_of_the_traces_makes_no_other_routes(order: list[int]) -> None:
    out = along(LINE, 6.0)
    other = along([(0, 0), (900, 0), (900, -1400)], 6.0)
    traces = [
        *rides(out, 3),
        *rides(out[::-1], 2, first=10),
        *rides(other, 3, first=20),
        trace(out[100:], seed=30),
    ]
    found = groups([traces[k] for k in order])
    sets = {frozenset(order[i] for i in route) for route in found.routes}
    assert sets == {frozenset({0, 1, 2, 8}), frozenset({3, 4}), frozenset({5, 6, 7})}


def test_many_traces_of_two_routes_are_all_placed() -> None:
    """More than the pool that leads are compared with: every trace still finds its route."""
    out = along([(0, 0), (1000, 0), (1000, 500)], 10.0)
    found = groups([*rides(out, 60), *rides(out[::-1], 45, first=100)])
    assert found.routes == (tuple(range(60)), tuple(range(60, 105)))


def test_one_far_straggler_among_many_is_the_only_one_set_aside() -> None:
    out = along([(0, 0), (1000, 0)], 10.0)
    found = groups([*rides(out, 50), trace(along([(0, 9000), (1000, 9000)], 10.0), seed=99)])
    assert found.routes == (tuple(range(50)),)
    assert set(found.strays) == {50}


def test_poses_are_even_and_a_half_turn_is_as_far_as_two_corridors() -> None:
    there = trace(along([(0, 0), (1000, 0)], 6.0), sd_m=0.0)
    back = trace(along([(1000, 0), (0, 0)], 6.0), sd_m=0.0)
    pose, at, travel = poses(there, CORRIDOR_M, 25.0, 1500)
    assert len(pose) == len(at) == pytest.approx(40, abs=1)
    np.testing.assert_allclose(np.diff(at), np.diff(at)[0])
    assert travel[-1] == pytest.approx(1000.0, rel=6e-3)  # a sphere stands for the ellipsoid
    steps = np.linalg.norm(np.diff(pose[:, :3], axis=0), axis=1)
    np.testing.assert_allclose(steps, np.diff(at), rtol=1e-6)
    np.testing.assert_allclose(np.linalg.norm(pose[:, 3:], axis=1), CORRIDOR_M)
    returned = poses(back, CORRIDOR_M, 25.0, 1500)[0][::-1]
    apart = np.linalg.norm(pose[5:-5] - returned[5:-5], axis=1)
    np.testing.assert_allclose(apart, 2 * CORRIDOR_M, rtol=1e-3)
    assert len(poses(there, CORRIDOR_M, 25.0, 17)[0]) == 17
    assert len(poses(there, CORRIDOR_M, 1e6, 17)[0]) == 4


def seldom(points: np.ndarray, every_m: float) -> np.ndarray:
    """Return some of the points of a way, so far apart along it."""
    travel = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    return points[np.searchsorted(travel, np.arange(0.0, travel[-1], every_m))]


@pytest.mark.parametrize("seed", range(6))
def test_a_point_a_minute_draws_no_other_way_than_a_point_a_second(seed: int) -> None:
    """The straight line between points 330 m apart is no way ridden: half of such rides made a route apart."""
    road = SHAPES["winding"](np.random.default_rng(seed), 3000.0, False)
    points = np.column_stack([road.east_m, road.north_m])
    found = groups([*rides(points[::5], 3), *rides(seldom(points, 330.0), 3, first=5, start_s=5e5)])
    assert found.routes == ((0, 1, 2, 3, 4, 5),)
    back = groups([*rides(points[::5], 3), *rides(seldom(points[::-1], 330.0), 3, first=5, start_s=5e5)])
    assert back.routes == ((0, 1, 2), (3, 4, 5))
    aside = points + np.array([0.0, 300.0])
    other = groups([*rides(points[::5], 3), *rides(seldom(aside, 330.0), 3, first=5, start_s=5e5)])
    assert other.routes == ((0, 1, 2), (3, 4, 5))
