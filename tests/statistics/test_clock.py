"""The clock offset of two receivers ridden together, and companions whose clocks are hours apart."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridden_together import LONG, MIXED, SHORT, Campaign, campaign
from trackspread.statistics.clock import Clock, along_separation, clock_offset, find_companions, told
from trackspread.statistics.effective import Along


def clock(made: Campaign, extra_s: np.ndarray | float = 0.0) -> Clock:
    a, b = made.crossing_s[0::2], made.crossing_s[1::2]
    return clock_offset(a + extra_s, b, made.station_m, Along.of(made.station_m), 0.95)


@pytest.mark.parametrize("taus", [SHORT, MIXED, LONG])
@pytest.mark.parametrize("true_s", [0.0, 2.4, -3600.0, 7200.7, -86_400.0 * 3])
def test_within_a_second(true_s: float, taus: tuple[tuple[float, float], ...]) -> None:
    found = clock(campaign(11, taus=taus, clocks_s=(true_s, 0.0))).pooled
    assert abs(found.value - true_s) < 0.5
    assert found.low < found.value < found.high


def test_intervals_cover() -> None:
    """At least 88 % of 60 intervals of 95 %: the 5 % point of Binomial(60, 0.95) is 54 = 90 %."""
    found = [clock(campaign(100 + seed, taus=MIXED)).pooled for seed in range(60)]
    assert sum(e.low <= 0.0 <= e.high for e in found) >= 53
    assert np.median([abs(e.value) for e in found]) <= 0.3


def test_one_ride_and_no_stops_still_tell() -> None:
    found = clock(campaign(12, rides=1, stops=0, clocks_s=(5.0, 0.0))).pooled
    assert abs(found.value - 5.0) < 1.0


def test_clocks_set_between_rides_have_no_common_offset() -> None:
    made = campaign(13, rides=4)
    found = clock(made, np.array([0.0, 0.0, 3600.0, 3600.0])[:, None])
    assert np.isnan(found.pooled.value)
    assert "set between rides" in found.pooled.reason
    assert found.by_ride_s == pytest.approx([0.0, 0.0, 3600.0, 3600.0], abs=1.0)
    found = clock(made, np.array([0.0, 9.0, 0.0, 9.0])[:, None])
    assert "set between rides" in found.pooled.reason
    assert found.by_ride_s == pytest.approx([0.0, 9.0, 0.0, 9.0], abs=1.0)


def test_no_times() -> None:
    made = campaign(14, rides=2)
    nothing = np.full((2, len(made.station_m)), np.nan)
    found = clock_offset(nothing, made.crossing_s[1::2], made.station_m, Along.of(made.station_m), 0.95)
    assert np.isnan(found.pooled.value)
    assert found.pooled.reason == "no times to compare"


def test_one_ride_without_times_leaves_the_others() -> None:
    made = campaign(15, rides=3, clocks_s=(4.0, 0.0))
    a = made.crossing_s[0::2].copy()
    a[1] = np.nan
    found = clock_offset(a, made.crossing_s[1::2], made.station_m, Along.of(made.station_m), 0.95)
    assert abs(found.pooled.value - 4.0) < 0.6
    assert np.isnan(found.by_ride_s[1])


@settings(max_examples=15, deadline=None)
@given(st.floats(-1e6, 1e6))
def test_a_shift_of_one_clock_shifts_the_offset(shift_s: float) -> None:
    made = campaign(16, rides=2, length_m=3000.0)
    assert clock(made, shift_s).pooled.value == pytest.approx(clock(made).pooled.value + shift_s, abs=0.02)


def test_swapping_the_receivers_turns_the_sign() -> None:
    made = campaign(17, clocks_s=(3.0, 0.0))
    a, b, along = made.crossing_s[0::2], made.crossing_s[1::2], Along.of(made.station_m)
    one = clock_offset(a, b, made.station_m, along, 0.95).pooled
    other = clock_offset(b, a, made.station_m, along, 0.95).pooled
    assert other.value == pytest.approx(-one.value, abs=0.05)


def test_along_separation_is_the_way_between_them() -> None:
    """a rides 7 m ahead of b at 5 m/s with its clock 100 s fast: worked by hand."""
    station = np.arange(0.0, 1000.0, 5.0)
    b = 1e9 + station / 5.0
    a = b + 100.0 - 7.0 / 5.0
    found = along_separation(a[None], b[None], station, np.array([100.0]))[0]
    known = np.isfinite(found)
    assert known.sum() >= len(station) - 3
    assert found[known] == pytest.approx(7.0, abs=1e-5)
    assert np.isnan(along_separation(a[None], b[None], station, np.array([np.nan]))).all()


def test_companions_an_hour_apart_are_proposed_and_others_are_not() -> None:
    made = campaign(18, rides=4, clocks_s=(3600.0, 0.0))
    found = find_companions(made.station_m, made.crossing_s, np.arange(8))
    assert sorted((a, b) for a, b, _ in found) == [(0, 1), (2, 3), (4, 5), (6, 7)]
    assert all(shift == 3600.0 for *_, shift in found)
    assert find_companions(made.station_m, made.crossing_s, np.repeat(np.arange(4), 2)) == []
    other = campaign(19, rides=4)
    assert find_companions(other.station_m, other.crossing_s[0::2], np.arange(4)) == []


def test_an_hourly_commute_by_coincidence_is_no_companion() -> None:
    """The same rider an hour later keeps another pace."""
    rng = np.random.default_rng(1)
    station = np.arange(0.0, 5000.0, 5.0)
    slow = np.cumsum(5.0 / (5.5 * np.exp(0.1 * rng.standard_normal((2, 1000)))), axis=1)
    slow[1] += 3600.0 + 30.0 * (station > 2000.0)
    assert find_companions(station, slow, np.arange(2)) == []


def test_a_thousand_lone_rides_take_seconds() -> None:
    """One ride a day for years: rides more than 14 hours apart are never compared."""
    pace = np.cumsum(
        5.0 / (5.5 * np.exp(0.1 * np.random.default_rng(2).standard_normal((1000, 400)))), axis=1
    )
    crossing = 1.9e9 + 86_400.0 * np.arange(1000.0)[:, None] + pace
    crossing[7] = crossing[3] + 3600.0
    crossing[500] = np.nan
    began = time.monotonic()
    assert find_companions(5.0 * np.arange(400.0), crossing, np.arange(1000)) == [(3, 7, -3600.0)]
    assert time.monotonic() - began < 5.0


def test_told() -> None:
    assert told(-0.04) == "-0.0 s"
    assert told(7200.0) == "2 h"
    assert told(3 * 86_400.0) == "3 days"
