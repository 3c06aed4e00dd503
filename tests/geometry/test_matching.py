"""Matching in order of travel: against slow searches on tiny cases, and against the truth of a world."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from polylines import SHAPES, along, bundle_of, line_of, true_line, true_stations, turned, world_bundle
from trackspread.geometry import matching
from trackspread.geometry.matching import Line, candidates, match, refine
from trackspread.geometry.points import Bundle
from world import Fault, Receiver, simulate

REACH_M = 60.0
few = settings(max_examples=20, deadline=None, derandomize=True)
seeds = st.integers(0, 10_000)


# --- candidates and samples --------------------------------------------------------------------------


@few
@given(seeds, st.sampled_from(sorted(SHAPES)))
def test_candidates_are_the_local_minima_of_distance(seed: int, shape: str) -> None:
    rng = np.random.default_rng(seed)
    line = line_of(along(SHAPES[shape]))
    p = along(SHAPES[shape])[rng.integers(0, len(line.x), 12)] + rng.normal(0, 12, (12, 2))
    point, station, distance = candidates(*p.T, line, REACH_M)
    for k in range(len(p)):
        away = np.hypot(line.x - p[k, 0], line.y - p[k, 1])
        padded = np.concatenate([[np.inf], np.where(away <= REACH_M, away, np.inf), [np.inf]])
        low = (padded[1:-1] < padded[:-2]) & (padded[1:-1] <= padded[2:]) & np.isfinite(padded[1:-1])
        expected = line.station_m[low]
        mine = point == k
        assert mine.sum() == min(len(expected), 6)
        assert (np.diff(station[mine]) >= 0).all()
        assert all(np.abs(expected - s).min() <= 5.0 for s in station[mine])
        assert (distance[mine] <= away[low].max() + 1e-9).all()
    assert (np.diff(point) >= 0).all()


def test_of_many_candidates_the_nearest_are_kept() -> None:
    legs = [(x, y * 14) for y in range(9) for x in ((0, 100) if y % 2 == 0 else (100, 0))]
    line = line_of(along(legs))
    point, station, distance = candidates(np.array([50.0, 50.0]), np.array([1.0, 113.0]), line, 200.0)
    np.testing.assert_allclose(sorted(distance[point == 0]), [1, 13, 27, 41, 55, 69])
    np.testing.assert_allclose(sorted(distance[point == 1]), [1, 15, 29, 43, 57, 71])
    assert (np.diff(station[point == 0]) > 0).all()


def test_no_candidate_lies_out_of_reach_or_off_the_line() -> None:
    line = line_of(along([(0, 0), (400, 0)]))
    point, station, distance = candidates(
        np.array([100.0, 100.0, -20.0, 418.0]), np.array([59.0, 61.0, 3.0, 3.0]), line, REACH_M
    )
    assert point.tolist() == [0, 2, 3]
    np.testing.assert_allclose(station, [100.0, 0.0, 400.0])
    np.testing.assert_allclose(distance, [59.0, np.hypot(20, 3), np.hypot(18, 3)])
    nothing = candidates(np.array([100.0]), np.array([900.0]), line, REACH_M)
    assert [len(part) for part in nothing] == [0, 0, 0]


def distance_cost(distance_m: float) -> float:
    """Huber's loss with its knee at 12 m and a scale of 8 m (Huber 1964, Ann. Math. Stat. 35:73)."""
    if distance_m <= 12.0:
        return 0.5 * (distance_m / 8.0) ** 2
    return 12.0 * (distance_m - 6.0) / 64.0


def test_the_costs_are_those_of_the_docstrings() -> None:
    distance = np.linspace(0.0, 60.0, 121)
    np.testing.assert_allclose(matching._distance_cost(distance, 1.0), [distance_cost(d) for d in distance])
    assert matching._away_cost(60.0, 1.0) == pytest.approx(distance_cost(0.63 * 60.0), abs=0.1)


def test_where_traces_scatter_more_all_costs_are_those_of_the_wider_scale() -> None:
    """Points 40 m about a line of 2 km, 120 m apart: with the usual scale most would be away, whatever the reach."""
    rng = np.random.default_rng(4)
    line = line_of(along([(0, 0), (2000, 0)], 5.0))
    traces = [along([(0, 0), (2000, 0)], 120.0) + rng.normal(0, 40.0, (18, 2)) for _ in range(4)]
    found = match(bundle_of(traces), line, 200.0)
    assert np.mean(np.isfinite(found)) > 0.95
    assert matching._distance_cost(np.array(80.0), 4.0) == pytest.approx(distance_cost(20.0))
    assert matching._scatter_m(np.array([0, 1, 2]), np.array([1.0, 2.0, 3.0])) == pytest.approx(
        2.0 * 1.482602
    )
    assert matching._scatter_m(np.empty(0, dtype=np.int64), np.empty(0)) == 0.0


def test_traces_side_by_side_do_not_touch_each_other() -> None:
    """A bundle of a long, a short and a torn trace gives to each what it gets alone."""
    rng = np.random.default_rng(2)
    line = line_of(along(SHAPES["hairpin"]))
    whole = along(SHAPES["hairpin"], 6.0) + rng.normal(0, 2, (len(along(SHAPES["hairpin"], 6.0)), 2))
    traces = [whole, whole[60:90], np.concatenate([whole[:40], whole[70:]]), whole[:12], whole[::-1]]
    together = match(bundle_of(traces), line, REACH_M)
    alone = np.concatenate([match(bundle_of([trace]), line, REACH_M) for trace in traces])
    np.testing.assert_allclose(together, alone, atol=1e-9)


def test_more_traces_than_a_batch_are_matched_like_the_first_ones() -> None:
    line = line_of(along([(0, 0), (200, 0)]))
    traces = [along([(0, 0), (200, 0)], 10.0, float(k % 7)) for k in range(matching.BATCH + 3)]
    found = match(bundle_of(traces), line, REACH_M).reshape(len(traces), -1)
    np.testing.assert_allclose(found, np.tile(traces[0][:, 0], (len(traces), 1)))


@few
@given(seeds, st.sampled_from(sorted(SHAPES)), st.floats(-3, 3))
def test_turning_and_shifting_the_plane_changes_no_station(seed: int, shape: str, angle: float) -> None:
    rng = np.random.default_rng(seed)
    points = along(SHAPES[shape])
    traces = [points[::2] + rng.normal(0, 2, points[::2].shape) for _ in range(2)]
    here = match(bundle_of(traces), line_of(points), REACH_M)
    moved = [turned(trace, angle, (5e4, -3e5)) for trace in traces]
    there = match(bundle_of(moved), line_of(turned(points, angle, (5e4, -3e5))), REACH_M)
    np.testing.assert_allclose(there, here, atol=1e-5)


@few
@given(seeds, st.sampled_from(["straight", "corner", "hairpin"]))
def test_riding_the_line_backwards_mirrors_the_stations(seed: int, shape: str) -> None:
    rng = np.random.default_rng(seed)
    points = along(SHAPES[shape])
    trace = points + rng.normal(0, 1.5, points.shape)
    line, back = line_of(points), line_of(points[::-1])
    there = match(bundle_of([trace]), line, REACH_M)
    returned = match(bundle_of([trace[::-1]]), back, REACH_M)[::-1]
    off = np.abs(there - (line.length_m - returned))
    assert np.nanmax(off) < 20.0
    assert np.nanmedian(off) < 1e-6


# --- no point on a wrong leg -------------------------------------------------------------------------

QUIET = Receiver(sigma_m=2.5)


def matched(
    world_seed: int, shape: str, **options: object
) -> tuple[list[np.ndarray], list[np.ndarray], float]:
    """Return found and true stations of every recording of a world on its true line, and its length."""
    world = simulate(
        shape, seed=world_seed, **{"rides": 4, "length_m": 1500.0, "receivers": [QUIET], **options}
    )
    bundle = world_bundle(world)
    station = match(bundle, true_line(world), REACH_M)
    found = [station[bundle.of(t)] for t in range(bundle.traces)]
    return found, true_stations(world, bundle), world.route.length_m


@pytest.mark.parametrize("sampling", ["1 s", "2-3 s", "3-11 s"])
@pytest.mark.parametrize(
    "shape", ["hairpins", "crossing", "spur", "loop", "figure of eight", "city", "winding"]
)
def test_no_point_is_on_a_wrong_leg(shape: str, sampling: str) -> None:
    """Hairpin legs lie 18 m apart, those of the spur 3 m; a wrong leg is off by a leg's length and more."""
    for seed in (1, 2):
        receiver = Receiver(sigma_m=2.5, sampling=sampling)
        found, true, _ = matched(seed, shape, receivers=[receiver])
        for at, expected in zip(found, true, strict=True):
            assert np.isfinite(at).mean() > (0.92 if sampling == "3-11 s" else 0.98)
            assert np.nanmax(np.abs(at - expected)) < 30.0
            assert np.sqrt(np.nanmean((at - expected) ** 2)) < 8.0


@pytest.mark.parametrize("shape", ["hairpins", "spur", "loop"])
def test_no_point_is_on_a_wrong_leg_after_a_late_first_fix_or_a_gap(shape: str) -> None:
    faults = [
        Fault(kind="late", ride=0, receiver="alder", seconds=70.0),
        Fault(kind="gap", ride=1, receiver="alder", from_m=330.0, to_m=640.0),
        Fault(kind="late", ride=2, receiver="alder", seconds=140.0),
    ]
    found, true, _ = matched(5, shape, faults=faults)
    for at, expected in zip(found, true, strict=True):
        assert np.isfinite(at).mean() > 0.98
        assert np.nanmax(np.abs(at - expected)) < 30.0


def test_a_closed_loop_begins_at_its_beginning_and_ends_at_its_end() -> None:
    found, _, length_m = matched(3, "loop")
    for at in found:
        assert at[np.isfinite(at)][0] < 60.0
        assert at[np.isfinite(at)][-1] > length_m - 60.0


def test_a_trace_in_the_other_direction_is_away() -> None:
    line = line_of(along(SHAPES["straight"]))
    station = match(bundle_of([along(SHAPES["straight"])[::-1]]), line, REACH_M)
    assert np.isnan(station).mean() > 0.9


def test_a_trace_of_another_road_is_away_all_the_way() -> None:
    line = line_of(along(SHAPES["straight"]))
    assert np.isnan(match(bundle_of([along([(0, 100), (400, 100)])]), line, REACH_M)).all()


@pytest.mark.parametrize("deep_m", [90.0, 250.0])
def test_a_detour_out_of_reach_is_away_and_the_way_back_is_found(deep_m: float) -> None:
    line = line_of(along([(0, 0), (900, 0)]))
    corners = [(0.0, 0.0), (300, 0), (300, deep_m), (500, deep_m), (500, 0), (900, 0)]
    trace = along(corners, 6.0)
    station = match(bundle_of([trace]), line, REACH_M)
    on = (trace[:, 1] == 0) & ((trace[:, 0] < 270) | (trace[:, 0] > 530))
    np.testing.assert_allclose(station[on], trace[on, 0], atol=1e-9)
    assert np.isnan(station[trace[:, 1] > REACH_M]).all()


def test_who_comes_back_between_two_legs_is_set_on_the_one_that_the_way_speaks_for() -> None:
    """A hairpin: back from a detour of 250 m it runs 19 m from the leg it left, 17 m from the third."""
    line = line_of(along(SHAPES["hairpin"]))
    corners = [(0, 0), (120, 0), (120, -80), (200, -80), (200, 19), (290, 19)]
    trace = along(corners, 5.0)
    station = match(bundle_of([trace]), line, REACH_M)
    back = np.flatnonzero((trace[:, 1] == 19) & (trace[:, 0] > 215) & (trace[:, 0] < 270))
    assert np.isfinite(station[back]).all()
    np.testing.assert_allclose(station[back], trace[back, 0], atol=0.5)
    fresh = match(bundle_of([trace[trace[:, 1] == 19]]), line, REACH_M)
    assert np.nanmedian(fresh) > 636.0  # without a past it is the nearer, the third leg


def test_a_lap_ridden_twice_is_not_folded_onto_one() -> None:
    """Two laps of a loop as one line: each lap of the trace keeps its own stations."""
    lap = [(0, 0), (200, 0), (200, 150), (0, 150)]
    points = along([*lap, *lap, (0, 0)])
    rng = np.random.default_rng(4)
    station = match(bundle_of([points + rng.normal(0, 2, points.shape)]), line_of(points), REACH_M)
    assert np.nanmax(np.abs(station - line_of(points).station_m)) < 20.0


def test_a_wobble_backwards_at_a_light_is_not_a_jump() -> None:
    line = line_of(along([(0, 0), (400, 0)]))
    wobble = np.stack([200 + 6 * np.sin(np.arange(40)), 5 * np.cos(np.arange(40))], axis=1)
    trace = np.concatenate([along([(0, 0), (200, 0)], 5.0), wobble, along([(200, 0), (400, 0)], 5.0)])
    station = match(bundle_of([trace]), line, REACH_M)
    assert np.nanmax(np.abs(station - trace[:, 0])) < 15.0
    assert np.isfinite(station).mean() > 0.8


# --- carrying stations over to all points ------------------------------------------------------------


def refined(bundle: Bundle, near: np.ndarray, line: Line, reach_m: float = REACH_M) -> np.ndarray:
    return refine(bundle, near, line, reach_m)


def test_refining_moves_a_station_to_the_nearest_foot_within_forty_metres() -> None:
    line = line_of(along([(0, 0), (400, 0)]))
    bundle = bundle_of([np.array([[100.0, 4.0], [200.0, -6.0], [300.0, 59.0], [310.0, 61.0]])])
    near = np.array([120.0, 165.0, np.nan, 310.0])
    np.testing.assert_allclose(refined(bundle, near, line), [100.0, 200.0, np.nan, np.nan])
    far = refined(bundle, np.array([300.0, 20.0, 270.0, 310.0]), line)
    np.testing.assert_allclose(far, [np.nan, np.nan, 300.0, np.nan])


def test_refining_never_changes_the_leg() -> None:
    line = line_of(along(SHAPES["hairpin"]))
    bundle = bundle_of([np.array([[100.0, 12.0], [100.0, 12.0]])])
    np.testing.assert_allclose(refined(bundle, np.array([95.0, 520.0]), line), [100.0, 518.0])


def test_refining_keeps_to_its_leg_of_a_spur_ridden_out_and_back() -> None:
    """Legs 3 m apart, 40 m of line around the tip: an error of 2 m puts the other leg nearer."""
    line = line_of(along(SHAPES["spur"], 1.0))
    out_and_back = np.array([[202.0, 105.0], [201.0, 105.0]])
    found = refined(bundle_of([out_and_back]), np.array([303.0, 340.0]), line)
    np.testing.assert_allclose(found, [305.0, 338.0], atol=1.0)


def test_refining_brings_a_point_back_to_the_leg_it_was_ridden_on() -> None:
    """Points 3 m to the left of a spur ridden out and back lie on, and beyond, the other leg; all stations wrong."""
    line = line_of(along(SHAPES["spur"], 1.0))
    legs = [along([(199, 20), (199, 110)], 5.0), along([(206, 110), (206, 20)], 5.0)]
    crossed = [along([(205, 20), (205, 110)], 5.0), along([(199, 110), (199, 20)], 5.0)]
    for ways in (legs, crossed):
        found = refined(bundle_of(ways), np.full(38, 321.0), line)
        near_tip = np.abs(found - 321.0) < 35
        assert near_tip.sum() > 8
        truth = np.concatenate([220 + np.arange(19) * 5.0, 332.5 + np.arange(19) * 5.0])
        np.testing.assert_allclose(found[near_tip], truth[near_tip], atol=2.0)


def test_refining_a_long_bundle_in_pieces_is_the_same() -> None:
    line = line_of(along([(0, 0), (400, 0)]))
    rng = np.random.default_rng(1)
    p = np.stack([rng.uniform(0, 400, 120_000), rng.normal(0, 5, 120_000)], axis=1)
    bundle = bundle_of([p])
    near = np.minimum(p[:, 0] + 3.0, 400.0)
    np.testing.assert_allclose(refined(bundle, near, line), p[:, 0], atol=1e-9)


def test_what_lies_beyond_an_end_is_not_drawn_onto_the_line() -> None:
    """It came by before the line began, or comes by once more: beyond the end it runs on straight, or stays."""
    line = line_of(along([(0, 0), (400, 0)]))
    p = np.array([[20.0, 4.0], [-7.0, 4.0], [380.0, -6.0], [409.0, 1.0], [2.0, 1.0], [-30.0, 59.0]])
    near = np.array([-130.0, -12.0, 420.0, 405.0, 0.0, -20.0])
    expected = [-130.0, -7.0, 420.0, 409.0, 2.0, np.nan]
    np.testing.assert_allclose(refined(bundle_of(list(p[:, None])), near, line), expected)
