"""Who is told apart from whom, and which stations two centrelines share."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from trackspread.compare.ranking import ordered, ranks, shared_stations, sooner, steadier
from trackspread.model import Estimate, MedianEstimate, Reason


def spread(value: float, dof: float) -> Estimate:
    ends = [value * math.sqrt(dof / stats.chi2.ppf(p, dof)) for p in (0.975, 0.025)]
    return Estimate(value=value, low=ends[0], high=ends[1])


def test_the_f_test_of_two_spreads() -> None:
    """SD 65.54909 and 61.85425 of 240 values each: F = 1.123, not significant; F(0.975; 239, 239) = 1.29.

    NIST/SEMATECH e-Handbook 1.3.5.9 (ceramic strength), quoted from memory.
    """
    a, b = spread(61.85425, 239), spread(65.54909, 239)
    assert (b.value / a.value) ** 2 == pytest.approx(1.123, abs=5e-4)
    assert not steadier(a, b, 0.95)
    assert steadier(spread(61.85425, 239), spread(61.85425 * math.sqrt(1.30), 239), 0.95)
    assert not steadier(spread(61.85425 * math.sqrt(1.30), 239), spread(61.85425, 239), 0.95)


def test_risk_of_telling_equal_receivers_apart() -> None:
    """Simulated: 5 % in both directions together, 4000 pairs with 8 and 20 degrees of freedom."""
    rng = np.random.default_rng(0)
    pairs = zip(np.sqrt(rng.chisquare(8, 400) / 8), np.sqrt(rng.chisquare(20, 400) / 20), strict=True)
    hits = [
        steadier(spread(a, 8), spread(b, 20), 0.95) or steadier(spread(b, 20), spread(a, 8), 0.95)
        for a, b in pairs
    ]
    assert 0.02 < np.mean(hits) < 0.09


def test_no_interval_no_verdict() -> None:
    assert not steadier(Estimate(reason=Reason("no_figure")), spread(1.0, 5), 0.95)
    assert not steadier(spread(1.0, 5), Estimate(value=9.0, low=9.0, high=9.0), 0.95)


def test_medians_are_apart_where_their_intervals_do_not_meet() -> None:
    early, late = MedianEstimate(median=5, low=2, high=9), MedianEstimate(median=20, low=10, high=40)
    assert sooner(early, late)
    assert not sooner(late, early)
    assert not sooner(early, MedianEstimate(median=12, low=9, high=40))
    assert not sooner(MedianEstimate(median=5, low=2, high=math.inf), late)
    assert not sooner(MedianEstimate(), late)


def test_ties_share_a_rank() -> None:
    """1 and 2 cannot be told apart, nor 2 and 3, but 1 and 3 can; 4 is worse than all; 5 has no figure."""
    better = ordered(5, [(0, 2), (0, 3), (1, 3), (2, 3)])
    assert ranks(better, [True] * 4 + [False]) == [1, 1, 2, 4, None]


def test_an_order_never_turns_round_what_was_said_first() -> None:
    """Partial orders: transitive and asymmetric, whatever is added (any textbook on order, from memory)."""
    rng = np.random.default_rng(4)
    for _ in range(200):
        said = [(int(i), int(j)) for i, j in np.sort(rng.integers(0, 9, (6, 2)), axis=1) if i < j]
        tests = [(int(i), int(j)) for i, j in rng.integers(0, 9, (25, 2)) if i != j]
        better = ordered(9, said, tests)
        assert not (better & better.T).any()
        assert not ((better.astype(int) @ better.astype(int) > 0) & ~better).any()
        found = ranks(better, [True] * 9)
        assert all(found[i] < found[j] for i, j in said)
        assert all(better[i, j] or better[j, i] for i, j in tests)


def test_shared_stations_run_the_same_way() -> None:
    lon = np.linspace(-30.0, -29.9, 400)
    lat = np.full(400, 47.0)
    assert shared_stations(lon, lat, lon, lat + 5.0 / 111_195.0).all()
    assert not shared_stations(lon, lat, lon[::-1], lat[::-1]).any()
    assert not shared_stations(lon, lat, lon, lat + 0.001).any()
    half = shared_stations(lon, lat, lon[:200], lat[:200])
    assert half[:195].all()
    assert not half[205:].any()


def test_the_antimeridian_and_a_pole_are_places_like_others() -> None:
    lon = np.linspace(179.95, 180.05, 300)
    lat = np.full(300, 60.0)
    assert shared_stations(lon, lat, (lon + 180.0) % 360.0 - 180.0, lat).all()
    lat = np.linspace(89.99, 89.999, 300)
    assert shared_stations(np.full(300, 10.0), lat, np.full(300, 370.0), lat).all()


@pytest.mark.parametrize("lon_deg", [-100.0, -30.0, 0.5, 80.0, 170.0])
@pytest.mark.parametrize("lat_deg", [-70.0, 0.0, 47.0])
def test_stations_are_shared_up_to_25_metres_anywhere(lon_deg: float, lat_deg: float) -> None:
    """A line due north and another 24 or 26 m east of it: a degree of the mean sphere is 111,195 m."""
    lat = lat_deg + 5.0 * np.arange(200) / 111_195.0
    lon = np.full(200, lon_deg)
    metre = 1.0 / (111_195.0 * np.cos(np.radians(lat)))
    assert shared_stations(lon, lat, lon + 24.0 * metre, lat).all()
    assert not shared_stations(lon, lat, lon + 26.0 * metre, lat).any()


@pytest.mark.parametrize("step_m", [0.5, 5.0, 20.0])
def test_lines_that_cross_share_their_crossing_up_to_60_degrees(step_m: float) -> None:
    """Two unit vectors an angle t apart are 2 sin(t/2) apart: 25 m at 60 degrees, whatever the step."""
    way = step_m * np.arange(-60, 61) / 111_195.0
    for angle_deg, shared in ((55.0, True), (65.0, False)):
        lon, lat = (f(np.radians(angle_deg)) * way for f in (np.cos, np.sin))
        found = shared_stations(way + 10.0, np.zeros(121), lon + 10.0, lat)
        assert found[60] == shared
        assert not found[[0, -1]].any()


def test_a_place_twice_in_a_line_does_no_harm() -> None:
    lon = -30.0 + np.repeat(np.arange(100), 3) * 1e-4
    lat = np.full(300, 47.0)
    assert shared_stations(lon, lat, lon, lat).all()


def test_a_rank_counts_who_is_better_and_known() -> None:
    """Without a figure one is neither ranked nor counted, whatever the comparison says of it."""
    assert ranks(ordered(3, [(0, 1), (1, 2)]), [False, True, True]) == [None, 1, 2]
    assert ranks(ordered(0), []) == []
