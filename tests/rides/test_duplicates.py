"""One recording is one witness; two receivers never are."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridden_together import LONG, MIXED, SHORT, Campaign, campaign
from trackspread.rides.duplicates import rounding_m, same_recording


def labels(made: Campaign, offset_m: np.ndarray, crossing_s: np.ndarray) -> list[int]:
    return same_recording(made.station_m, offset_m, crossing_s).tolist()


@pytest.mark.parametrize("shift_s", [0.0, 3600.0, -7.0, 86_400.0 * 300])
def test_a_second_export_is_the_same_witness(shift_s: float) -> None:
    made = campaign(1, rides=3)
    offset = np.vstack([made.offset_m, made.offset_m[2] + 0.01])
    crossing = np.vstack([made.crossing_s, made.crossing_s[2] + shift_s])
    found = labels(made, offset, crossing)
    assert found[-1] == found[2]
    assert len(set(found)) == 6


def test_a_cut_export_is_the_same_witness() -> None:
    made = campaign(2, rides=2)
    offset, crossing = (
        np.vstack([made.offset_m, made.offset_m[1]]),
        np.vstack([made.crossing_s, made.crossing_s[1]]),
    )
    offset[-1, :500] = np.nan
    crossing[-1, :500] = np.nan
    found = labels(made, offset, crossing)
    assert found[-1] == found[1]
    assert len(set(found)) == 4


@pytest.mark.parametrize("taus", [SHORT, MIXED, LONG])
@pytest.mark.parametrize("seed", range(12))
def test_two_receivers_with_errors_of_a_metre_stay_two(
    seed: int, taus: tuple[tuple[float, float], ...]
) -> None:
    made = campaign(seed, sigmas_m=(1.0, 1.0), common_m=5.0, rides=3, taus=taus)
    assert len(set(labels(made, made.offset_m, made.crossing_s))) == 6


def test_a_short_common_part_is_no_proof() -> None:
    made = campaign(3, rides=1)
    offset, crossing = made.offset_m.copy(), made.crossing_s.copy()
    offset[1, :30] = offset[0, :30]
    offset[1, 30:] = np.nan
    assert len(set(labels(made, offset, crossing))) == 2


def test_the_same_line_at_another_pace_is_another_ride() -> None:
    made = campaign(4, rides=2)
    offset = np.vstack([made.offset_m[0], made.offset_m[0]])
    crossing = np.vstack([made.crossing_s[0], made.crossing_s[2]])
    assert len(set(labels(made, offset, crossing))) == 2


def test_nothing_in_common_and_nothing_at_all() -> None:
    made = campaign(5, rides=1)
    offset = made.offset_m.copy()
    offset[0, 300:] = np.nan
    offset[1, :300] = np.nan
    assert len(set(labels(made, offset, made.crossing_s))) == 2
    assert labels(made, np.full_like(offset, np.nan), np.full_like(offset, np.nan)) == [0, 1]


@settings(max_examples=20, deadline=None)
@given(st.permutations(range(7)))
def test_labels_follow_the_traces_in_any_order(order: list[int]) -> None:
    made = campaign(6, rides=3)
    offset, crossing = (np.vstack([x, x[4]])[order] for x in (made.offset_m, made.crossing_s))
    found = labels(made, offset, crossing)
    assert found[order.index(4)] == found[order.index(6)]
    assert len(set(found)) == 6


def two(apart_m: np.ndarray, late_s: np.ndarray | float = 0.0, first_m: float = 0.0) -> bool:
    """Return whether two traces, so far apart at stations every 5 m, are one recording."""
    station = first_m + 5.0 * np.arange(len(apart_m))
    way = 3.0 * np.sin(np.arange(len(apart_m)) / 9.0)
    time = 1.9e9 + station / 5.5
    return (
        len(
            set(
                same_recording(
                    station, np.stack([way, way + apart_m]), np.stack([time, time + late_s])
                ).tolist()
            )
        )
        == 1
    )


def test_offsets_must_agree_in_the_middle_and_at_large() -> None:
    """Half of them within 0.12 m and 90 % within 0.35 m: each is needed, whatever the other says."""
    share = np.linspace(0.0, 1.0, 400)
    assert two(np.full(400, 0.11))
    assert not two(np.full(400, 0.13))
    assert two(np.where(share < 0.92, 0.0, 0.5))
    assert not two(np.where(share < 0.88, 0.0, 0.5))
    assert two(np.where(share < 0.55, 0.0, 0.34))
    assert not two(np.where(share < 0.55, 0.0, 0.36))


def test_clocks_must_run_alike() -> None:
    share = np.linspace(0.0, 1.0, 400)
    assert two(np.zeros(400), np.where(share < 0.5, 0.0, 2.9))
    assert two(np.zeros(400), np.where(share < 0.8, 0.0, 60.0))
    assert not two(np.zeros(400), np.where(share < 0.7, 0.0, 60.0))
    assert two(np.zeros(400), np.nan)


@pytest.mark.parametrize("first_m", [0.0, 10_000.0])
def test_two_hundred_metres_in_common_are_needed(first_m: float) -> None:
    """Stations every 5 m: 40 of them, wherever the route is counted from, on routes of any length."""
    for common, same in ((40, True), (39, False)):
        assert two(np.where(np.arange(50) < common, 0.0, np.nan), first_m=first_m) == same
    assert not two(np.zeros(30), first_m=first_m)


def test_half_of_the_shorter_trace_must_be_common() -> None:
    """500 m in common are half of a trace of 1 km and less than half of one of 1,050 m."""
    for own, same in ((200, True), (210, False)):
        offset = np.zeros((2, 800))
        offset[0, 200 + own :] = np.nan
        offset[1, : 100 + own] = np.nan
        offset[0, :200] = np.nan
        found = same_recording(5.0 * np.arange(800.0), offset, np.full(offset.shape, np.nan))
        assert (found[0] == found[1]) == same


def test_offsets_and_points_both_find_copies() -> None:
    """The first two agree in their offsets, the last two in their points; nothing else goes together."""
    made = campaign(8, rides=3)
    offset = made.offset_m[[0, 0, 2, 4]]
    points = [logged(20), logged(21), logged(22), logged(22)[::2]]
    found = same_recording(made.station_m, offset, made.crossing_s[[0, 0, 2, 4]], points).tolist()
    assert found == [0, 0, 1, 1]


def test_no_station_and_no_trace() -> None:
    assert same_recording(np.zeros(1), np.zeros((2, 1)), np.zeros((2, 1))).tolist() == [0, 1]
    assert same_recording(np.arange(9.0), np.empty((0, 9)), np.empty((0, 9))).tolist() == []


# --- by points ---------------------------------------------------------------------------------------


def logged(
    seed: int, count: int = 900, error_m: float = 2.0, step_m: float = 5.5, lon_deg: float = -30.0
) -> np.ndarray:
    """Longitude and latitude of a made-up recording at 1 Hz and 5.5 m/s, degrees, full precision."""
    rng = np.random.default_rng(seed)
    heading = np.cumsum(rng.normal(0.0, 0.05, count))
    way = np.cumsum(step_m * np.stack([np.cos(heading), np.sin(heading)]), axis=1)
    noise = error_m * np.cumsum(rng.normal(0.0, 0.1, (2, count)), axis=1) + rng.normal(0.0, 0.3, (2, count))
    east, north = way + noise
    return np.stack(
        [lon_deg + east / (111_195.0 * np.cos(np.radians(47.0))), 47.0 + north / 111_195.0], axis=1
    )


def by_points(*points: np.ndarray) -> list[int]:
    """Labels of recordings that share no offset."""
    nothing = np.full((len(points), 50), np.nan)
    return same_recording(5.0 * np.arange(50.0), nothing, nothing, points).tolist()


def same_points(a: np.ndarray, b: np.ndarray) -> bool:
    one, other = by_points(a, b)
    return one == other


def test_left_out_points_and_rounded_coordinates_are_the_same_recording() -> None:
    points = logged(1)
    assert same_points(points, points[::5])
    assert same_points(points[::5], points)
    assert same_points(points, np.round(points, 6))
    assert same_points(points, np.round(points, 5)[::3])


def test_two_receivers_log_other_points() -> None:
    points, rng = logged(2), np.random.default_rng(9)
    other = points + rng.normal(0.0, 1.0, points.shape) / 111_195.0
    assert not same_points(points, other)
    assert not same_points(np.round(points, 5), np.round(other, 5))


def test_coordinates_too_coarse_or_too_dense_prove_nothing() -> None:
    points = logged(3)
    assert not same_points(points, np.round(points, 4))
    dense = np.stack(
        [np.interp(np.linspace(0, 899, 20_000), np.arange(900), points[:, k]) for k in (0, 1)], axis=1
    )
    assert not same_points(np.round(dense, 5), np.round(points, 5))


def test_rounding_is_half_the_mesh() -> None:
    """One unit of the fifth decimal of latitude is 1.11 m (a degree of 111.195 km on the mean sphere)."""
    points = logged(4)
    assert rounding_m(np.round(points, 5)) == pytest.approx(0.5 * np.sqrt(2.0) * 1.11195, rel=1e-4)
    assert rounding_m(points) == 0.0


def test_rounding_finer_than_a_millimetre_is_none() -> None:
    points = logged(4)
    assert rounding_m(np.round(points, 7)) == pytest.approx(0.5 * np.sqrt(2.0) * 0.0111195, rel=1e-4)
    assert rounding_m(np.round(points, 8)) == 0.0


def straight_on(step_m: float, count: int = 200, decimals: int = 12) -> np.ndarray:
    """Points due north at even steps."""
    lat = 47.0 + step_m * np.arange(count) / 111_195.0
    return np.round(np.stack([np.full(count, -30.0), lat], axis=1), decimals)


def test_points_must_lie_four_times_as_far_apart_as_they_may_differ() -> None:
    """Five decimals: 0.1 m and half the mesh, 0.79 m, are 0.89 m; four times that is 3.54 m."""
    for step_m, proven in ((3.4, False), (3.7, True), (4.3, True)):
        assert same_points(straight_on(step_m), straight_on(step_m, decimals=5)[:-1]) == proven
    assert same_points(straight_on(1.0), straight_on(1.0)[::2])


def test_a_receiver_that_stands_proves_nothing() -> None:
    assert not same_points(straight_on(0.3), straight_on(0.3))
    standing = np.repeat(straight_on(5.5), [1] * 150 + [20] * 50, axis=0)
    assert same_points(standing, standing[::2])


def test_nineteen_of_twenty_points_are_enough_and_eighteen_are_not() -> None:
    points = logged(8, 20)
    for wrong, same in ((0, True), (1, True), (2, False)):
        other = points.copy()
        other[5 : 5 + wrong, 1] += 1e-4
        assert same_points(points, other) == same
        assert same_points(other, points) == same
    assert not same_points(points[:19], points[:19])


@pytest.mark.parametrize("lon_deg", [-100.0, 0.5, 80.0])
def test_a_point_is_the_same_within_a_tenth_of_a_metre_anywhere(lon_deg: float) -> None:
    points = logged(9, lon_deg=lon_deg)
    metre = np.array([1.0 / (111_195.0 * np.cos(np.radians(47.0))), 0.0])
    assert same_points(points, points + 0.09 * metre)
    assert not same_points(points, points + 0.11 * metre)


def test_copies_are_found_among_other_recordings() -> None:
    one, other = logged(10), logged(11)
    assert by_points(logged(12, 19), one, other, one[::3], other) == [0, 1, 2, 1, 2]
    assert by_points(one, np.round(one, 5)) == [0, 0]
    assert by_points(logged(8, 20), logged(8, 20)) == [0, 0]
    begun_elsewhere = one.copy()
    begun_elsewhere[:30] += 1e-3
    assert by_points(one, begun_elsewhere) == [0, 0]
    assert by_points(begun_elsewhere, one) == [0, 0]


def test_a_coarse_recording_among_them_makes_no_copies() -> None:
    """Four decimals let a probe of any recording reach a metre; half a metre apart is another recording."""
    one = logged(13)
    assert by_points(one, one + 0.5 / 111_195.0, np.round(logged(14), 4)) == [0, 1, 2]


def test_points_decide_where_offsets_cannot() -> None:
    made = campaign(7, rides=1)
    points = [logged(5), logged(5)[::7]]
    assert same_recording(made.station_m, made.offset_m, made.crossing_s, points).tolist() == [0, 0]
    assert same_recording(
        made.station_m, made.offset_m, made.crossing_s, [logged(5), logged(6)]
    ).tolist() == [0, 1]
    nowhere = [np.empty((0, 2)), np.empty((0, 2))]
    assert same_recording(made.station_m, made.offset_m, made.crossing_s, nowhere).tolist() == [0, 1]


def test_a_thousand_traces_take_seconds() -> None:
    rng = np.random.default_rng(0)
    offset = rng.normal(0.0, 3.0, (1000, 1)) + rng.normal(0.0, 1.0, (1000, 800))
    offset[700] = offset[3]
    began = time.monotonic()
    found = same_recording(5.0 * np.arange(800.0), offset, np.full(offset.shape, np.nan))
    assert time.monotonic() - began < 8.0
    assert found[700] == found[3]
    assert len(set(found.tolist())) == 999
