"""The motion of two receivers at instants along a ride, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from trackspread.noise.effective import Along
from trackspread.pairs import motion as module
from trackspread.pairs.motion import Motion, bulges, motion, rising

STATION_M = np.arange(0.0, 1500.0, 5.0)


def moved(
    a_s: np.ndarray, b_s: np.ndarray, clock_s: float = 0.0, heading: np.ndarray | None = None
) -> Motion:
    along = Along.of(STATION_M, heading)
    return motion(a_s[None], b_s[None], np.array([clock_s]), STATION_M, along)


def test_way_ahead_and_both_speeds() -> None:
    """At 5 m/s a is 7 m ahead, its clock 100 s fast: 300 s of way, an instant every 5 s, 3 s off at each end."""
    b = 1e9 + STATION_M / 5.0
    found = moved(b + 100.0 - 7.0 / 5.0, b, 100.0)
    assert found.step_s == 5.0
    assert found.columns.shape == (1, 59, 3)
    assert found.columns[0] == pytest.approx(np.tile([7.0, 5.0, 5.0], (59, 1)), abs=1e-5)
    assert found.direction[0] == pytest.approx(np.tile([1.0, 0.0], (59, 1)))


def test_places_and_speeds_are_means_over_three_seconds() -> None:
    """a is ahead by c t^2: at 1 s before, now and 1 s after by c (t^2 + 2/3) on the mean; its speed is 5 + 2 c t."""
    station, c = np.arange(0.0, 701.0), 0.001
    a, b = (np.sqrt(25.0 + 4.0 * c * station) - 5.0) / (2.0 * c), station / 5.0
    found = motion(a[None], b[None], np.zeros(1), station, Along.of(station)).columns[0]
    t = 3.0 + 5.0 * np.arange(len(found))
    assert found[:, 0] == pytest.approx(c * (t**2 + 2.0 / 3.0), abs=5e-5)
    assert found[:, 1:] == pytest.approx(np.stack([5.0 + 2.0 * c * t, np.full(len(t), 5.0)], 1), abs=5e-5)


@pytest.mark.parametrize("swapped", [False, True])
def test_instants_lie_three_seconds_and_more_within_both_ways(swapped: bool) -> None:
    """One passes 0 to 1495 m, the other 100 to 1380 m: seconds 20 to 276, of which 23 to 273 in steps of 5."""
    whole = STATION_M / 5.0
    part = np.where((STATION_M >= 100.0) & (STATION_M <= 1380.0), whole, np.nan)
    found = moved(whole, part) if swapped else moved(part, whole)
    assert found.columns.shape == (1, 51, 3)
    assert np.isfinite(found.columns[0, :50]).all()


def test_only_what_comes_after_all_before_is_rising() -> None:
    time, station = rising(np.array([3.0, 7.0, 5.0, 7.0, 8.0, 2.0, 9.0]), np.arange(7.0))
    assert time.tolist() == [3.0, 7.0, 8.0, 9.0]
    assert station.tolist() == [0.0, 1.0, 4.0, 6.0]


def test_one_instant_speaks_for_a_stand() -> None:
    """Both stand for 60 s on the way from 700 to 705 m, passed after 140 and 201 s; windows reach 1 s beyond.

    Of the instants from 143 to 198 s the seventh is left, with 25 / 12 m2 for each of the two receivers.
    """
    b = STATION_M / 5.0 + 60.0 * (STATION_M > 702.0)
    found = moved(b, b)
    at = 3.0 + 5.0 * np.arange(found.columns.shape[1])
    unknown = np.isnan(found.columns[0, :, 0])
    assert at[unknown].tolist() == [t for t in range(143, 203, 5) if t != 173]
    assert found.hidden_m2[0, at == 173.0] == pytest.approx(2.0 * 25.0 / 12.0)
    assert np.all(found.hidden_m2[0, (at < 139.0) | (at > 202.0)] == 0.0)


@pytest.mark.parametrize("way", [1, -1])
def test_one_instant_speaks_for_the_stand_of_one_receiver(way: int) -> None:
    """The same stand where the other rides on."""
    ways = [(STATION_M / 5.0 + 60.0 * (STATION_M > 702.0), STATION_M), (STATION_M / 5.0, STATION_M)]
    at = np.arange(3.0, 290.0, 5.0)
    columns, hidden = module._ahead(ways[::way], at, 30.0)
    assert at[np.isnan(columns[:, 0])].tolist() == [t for t in range(143, 203, 5) if t != 173]
    assert hidden[at == 173.0] == pytest.approx(25.0 / 12.0)


def test_the_middle_of_each_run_is_kept() -> None:
    stands = np.array([0, 1, 1, 1, 0, 1, 0, 0, 1, 1], dtype=bool)
    assert module._but_the_middle(stands).tolist() == [1, 3, 8]
    assert module._but_the_middle(~stands[:1]).tolist() == []
    assert module._but_the_middle(stands[:1]).tolist() == []


@pytest.mark.parametrize(("spread_m", "limit_m"), [(2.0, 5.0 * 2.0 / stats.norm.ppf(0.75)), (0.0, 2.5)])
def test_what_lies_beyond_five_scales_about_the_middle_is_a_jump(spread_m: float, limit_m: float) -> None:
    """The scale is the MAD over that of the standard normal law (scipy), half a metre at least."""
    ahead = 100.0 + spread_m * np.tile([-1.0, 0.0, 1.0], 30)
    ahead[[10, 50]] = 100.0 + 1.002 * limit_m, 100.0 - 0.998 * limit_m
    columns = np.stack([ahead, ahead, ahead], axis=1)[None]
    module._drop_jumps(columns)
    assert np.argwhere(np.isnan(columns[0])).tolist() == [[10, 0], [10, 1], [10, 2]]


def test_a_stand_of_a_sparse_trace_hides_the_way_between_two_points() -> None:
    """Points at 680 and 720 m, 68 s apart with 60 s of standing: the variance is 40^2 / 12 for each of two."""
    b = np.interp(STATION_M, [0.0, 680.0, 720.0, 1495.0], [0.0, 136.0, 204.0, 359.0])
    found = moved(b, b)
    known = np.isfinite(found.columns[0, :, 0])
    hidden = found.hidden_m2[0, known & (found.hidden_m2[0] > 0.0)]
    assert hidden == pytest.approx([2.0 * 1600.0 / 12.0])


@pytest.mark.parametrize(("lasts_s", "often"), [(10.0, 2.0), (1.0, 1.0), (16.0, 0.0)])
def test_between_points_far_apart_the_speed_changes_evenly(lasts_s: float, often: float) -> None:
    """At 0.4 m/s2 all along: numpy's mean square of the way less the straight line between two points.

    An interval of 10 s spans two instants; one of 16 s is no logging interval.
    """
    t = np.linspace(0.0, lasts_s, 10_001)
    mean_square = np.mean((0.2 * t**2 - 0.2 * lasts_s * t) ** 2)
    way = np.diff(2.0 * lasts_s * np.arange(5) + 0.2 * (lasts_s * np.arange(5)) ** 2)
    found = bulges(np.full(4, lasts_s), way)
    assert found[1:3] == pytest.approx([often * mean_square] * 2, rel=1e-3)
    assert bulges(np.full(4, lasts_s), np.full(4, 50.0)) == pytest.approx(np.zeros(4))


def test_two_stands_have_an_instant_each() -> None:
    b = STATION_M / 5.0 + 30.0 * (STATION_M > 302.0) + 30.0 * (STATION_M > 902.0)
    found = moved(b, b)
    known = np.isfinite(found.columns[0, :, 0])
    hidden = found.hidden_m2[0, known & (found.hidden_m2[0] > 0.0)]
    assert hidden == pytest.approx([50.0 / 12.0, 50.0 / 12.0])


def test_nothing_is_known_over_a_gap_nor_of_a_jump() -> None:
    b = STATION_M / 5.0
    gap = b.copy()
    gap[(STATION_M > 300.0) & (STATION_M < 400.0)] = np.nan
    unknown = np.isnan(moved(gap, b).columns[0, :, 0])
    at = 3.0 + 5.0 * np.arange(59)
    assert at[unknown].min() == pytest.approx(60.0, abs=5.0)
    assert at[unknown].max() == pytest.approx(80.0, abs=5.0)
    jump = b.copy()
    jump[100:120] = b[99] + 0.01 * np.arange(1, 21)
    lost = np.isnan(moved(jump, b).columns[0, :, 0])
    assert 2 <= lost.sum() <= 5
    assert np.nanmax(np.abs(moved(jump, b).columns[0, :, 0])) <= 2.5


def test_stations_far_apart_are_no_gap() -> None:
    station = np.arange(0.0, 1500.0, 50.0)
    time = (station / 5.0)[None]
    found = motion(time + 1.0, time, np.zeros(1), station, Along.of(station)).columns
    assert found[0] == pytest.approx(np.tile([-5.0, 5.0, 5.0], (found.shape[1], 1)))


def test_the_direction_is_a_mean_over_the_step() -> None:
    """Right angle at 750 m: before it east, after it north; on a bend the mean of unit vectors is shorter."""
    b = STATION_M / 5.0
    heading = np.where(STATION_M < 750.0, 0.0, np.pi / 2.0)
    direction = moved(b, b, heading=heading).direction[0]
    assert direction[:28] == pytest.approx(np.tile([1.0, 0.0], (28, 1)))
    assert direction[31:] == pytest.approx(np.tile([0.0, 1.0], (28, 1)), abs=1e-12)
    assert np.linalg.norm(direction[29]) < 0.9
    whole = moved(b, b, heading=STATION_M / 50.0).direction[0]
    assert np.linalg.norm(whole, axis=1) == pytest.approx(
        np.full(59, np.abs(np.mean(np.exp(0.5j * np.array([-0.4, -0.2, 0.0, 0.2, 0.4]))))), abs=1e-9
    )


def test_long_rides_have_instants_farther_apart() -> None:
    station = np.arange(0.0, 30_000.0, 10.0)
    time = (station / 5.0)[None]
    found = motion(time, time, np.zeros(1), station, Along.of(station))
    assert found.columns.shape[1] <= 501
    assert found.step_s == pytest.approx(12.0, rel=0.01)


def test_rides_that_have_nothing_in_common_have_no_instants() -> None:
    b = STATION_M / 5.0
    both = motion(np.stack([b + 1e4, b]), np.stack([b, b]), np.zeros(2), STATION_M, Along.of(STATION_M))
    assert np.isnan(both.columns[0]).all()
    assert np.isfinite(both.columns[1]).all()
    alone = moved(b + 1e4, b)
    assert alone.columns.shape == (1, 0, 3)
