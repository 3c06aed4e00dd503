"""Ways that several rides took alike, on offsets whose groups are known."""

from __future__ import annotations

import numpy as np
import pytest

from trackspread.statistics.astray.variants import by_ride, find_ways

STEP_M = 5.0


def wander(seed: int, traces: int, stations: int = 400, sd_m: float = 2.5) -> np.ndarray:
    """Offsets that wander by ``sd_m`` with a correlation length of 100 stations (an autoregression)."""
    rng = np.random.default_rng(seed)
    out = np.empty((traces, stations))
    out[:, 0] = rng.standard_normal(traces)
    for k in range(1, stations):
        out[:, k] = 0.99 * out[:, k - 1] + np.sqrt(1 - 0.99**2) * rng.standard_normal(traces)
    return sd_m * out


def ways(shown: np.ndarray, ride: np.ndarray | None = None):
    return find_ways(shown, np.arange(len(shown)) if ride is None else ride, STEP_M, 30.0, 30.0)


def aside(shown: np.ndarray, traces: range, by_m: float, first: int = 150, last: int = 249) -> np.ndarray:
    out = shown.copy()
    out[traces.start : traces.stop, first : last + 1] += by_m
    return out


@pytest.mark.parametrize(
    ("rides", "others", "by_m", "stations"),
    [(38, 13, 400.0, 200), (143, 65, 16.0, 22), (6, 2, 30.0, 60), (6, 3, 30.0, 60), (4, 2, 80.0, 60), (12, 2, -25.0, 30)],
)  # fmt: skip
def test_rides_that_go_aside_alike_are_one_variant(
    rides: int, others: int, by_m: float, stations: int
) -> None:
    """The first two are those of the issue: 13 of 38 over 2 km, and 65 of 143 over 110 m."""
    for seed in range(4):
        last = 100 + stations - 1
        found = ways(aside(wander(seed, rides), range(others), by_m, 100, last))
        (way,) = found.found
        if 2 * others < rides:
            assert set(range(others)) <= set(way.traces)
            assert len(way.traces) <= others + 1
        else:
            assert len(way.traces) == others
        assert way.first == pytest.approx(100, abs=2)
        assert way.last == pytest.approx(last, abs=2)
        assert way.aside_m == pytest.approx(abs(by_m), rel=0.25)
        assert found.aside[list(way.traces), 100 : last + 1].mean() > 0.95
        assert not found.aside[:, :80].any()


def test_nothing_is_a_variant_where_errors_only_wander() -> None:
    """100 draws each of four, six and twelve rides; a variant needs an edge at both ends."""
    found = [len(ways(wander(seed, rides)).found) for rides in (4, 6, 12) for seed in range(100)]
    assert sum(found) <= 1


def test_one_ride_alone_takes_no_variant_however_many_watches_it_carries() -> None:
    shown = aside(wander(1, 8), range(3), 40.0)
    ride = np.array([0, 0, 0, 1, 2, 3, 4, 5])
    assert ways(shown, ride).found == ()
    assert len(ways(shown).found) == 1


def test_two_ways_on_two_sides_are_two_variants_in_order_of_station() -> None:
    shown = aside(aside(wander(2, 9), range(2), 30.0, 200, 280), range(4, 6), -40.0, 60, 120)
    found = ways(shown)
    assert [way.traces for way in found.found] == [(4, 5), (0, 1)]
    assert found.taken[4, 90] == 1
    assert found.taken[0, 240] == 2
    assert found.taken[0, 90] == 0


def test_rides_that_go_aside_but_not_alike_took_no_way_together() -> None:
    shown = aside(aside(wander(3, 8), range(1), 30.0), range(1, 2), 75.0)
    assert ways(shown).found == ()


def test_with_three_rides_no_way_is_taken_by_two_and_left_by_two() -> None:
    assert ways(aside(wander(4, 3), range(2), 50.0)).found == ()


def test_a_way_at_an_end_of_the_route_needs_one_edge_only() -> None:
    (way,) = ways(aside(wander(5, 7), range(2), 45.0, 0, 80)).found
    assert (way.first, way.last) == (0, pytest.approx(80, abs=2))


def test_a_ride_is_the_median_of_its_companions() -> None:
    values = np.array([[1.0, np.nan], [3.0, 4.0], [10.0, 7.0]])
    assert by_ride(values, np.array([5, 5, 2])).tolist() == [[10.0, 7.0], [2.0, 4.0]]


@pytest.mark.parametrize("seed", range(5))
def test_two_bursts_at_one_place_are_no_variant_and_two_rides_as_far_aside_are(seed: int) -> None:
    """Receivers in a burst are driven six times as hard, and lie aside by luck; a way is as smooth as ever."""
    driven = np.random.default_rng(100 + seed).standard_normal((2, 60)).cumsum(axis=1)
    calm, burst = wander(seed, 10), wander(seed, 10)
    both = aside(calm, range(2), 26.0, 150, 209)
    burst[:2, 150:210] += 26.0 + 2.0 * (driven - np.linspace(0.0, 1.0, 60) * driven[:, -1:])
    assert len(ways(both).found) == 1
    assert not ways(burst).found


@pytest.mark.parametrize(("apart_m", "variants"), [(5.0, 1), (20.0, 1), (40.0, 0)])
def test_a_variant_is_long_enough_for_two_points_of_a_trace(apart_m: float, variants: int) -> None:
    """One point each that errs to one side is what two receivers log by chance."""
    shown = aside(wander(3, 10), range(2), 40.0, 150, 160)
    span_m = np.full(shown.shape, apart_m)
    assert len(find_ways(shown, np.arange(10), STEP_M, 30.0, 30.0, span_m=span_m).found) == variants
