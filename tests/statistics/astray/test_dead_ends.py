"""A dead end ridden in and out is found where it leaves the line; what a receiver makes up is not."""

from __future__ import annotations

import numpy as np
import pytest

from trackspread.statistics.astray.dead_ends import DeadEnd, dead_ends, witnessed_by_all
from world.noise import ornstein_uhlenbeck

STATION_M = np.arange(0.0, 2001.0, 5.0)
LINE = np.column_stack([STATION_M, np.zeros_like(STATION_M)])


def ridden(far_m: float, seed: int, speed_m_s: float = 5.0) -> np.ndarray:
    """Return points (P, 3) of a ride east with a dead end to the north at 800 m, errors of 3 m over 60 s."""
    corners = np.array([(0.0, 0.0), (800.0, 0.0), (800.0, far_m), (800.0, 0.0), (2000.0, 0.0)])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    at_s = np.arange(0.0, along[-1] / speed_m_s)
    true = np.column_stack([np.interp(speed_m_s * at_s, along, c) for c in corners.T])
    return np.column_stack([true + 3.0 * ornstein_uhlenbeck(np.random.default_rng(seed), at_s, 60.0), at_s])


def stood(seed: int) -> np.ndarray:
    """Return a ride that waits 90 s at 800 m, where its fix wanders 60 m aside and back."""
    way = ridden(0.0, seed)
    at = int(np.argmax(way[:, 0] >= 800.0))
    wait = np.tile(way[at], (90, 1))
    wait[:, 1] += 60.0 * np.sin(np.linspace(0.0, np.pi, 90))
    wait[:, 2] += np.arange(90)
    rest = way[at:] + np.array([0.0, 0.0, 90.0])
    return np.concatenate([way[:at], wait, rest])


def crossed_s(points: np.ndarray) -> np.ndarray:
    best = np.maximum.accumulate(points[:, 0])
    return points[np.minimum(np.searchsorted(best, STATION_M), len(best) - 1), 2]


def found(points: np.ndarray) -> list[DeadEnd]:
    return dead_ends(0, LINE, STATION_M, crossed_s(points), points)


@pytest.mark.parametrize("speed_m_s", [1.4, 5.0])
@pytest.mark.parametrize("far_m", [60.0, 100.0, 200.0])
def test_a_dead_end_is_found_where_it_was_ridden(far_m: float, speed_m_s: float) -> None:
    told = [found(ridden(far_m, seed, speed_m_s)) for seed in range(10)]
    assert sum(len(ends) == 1 for ends in told) >= 9
    for end in (end for ends in told for end in ends):
        assert end.station_m == pytest.approx(800.0, abs=25.0)
        assert end.far_m == pytest.approx(far_m, abs=15.0)


def test_a_fix_that_wanders_at_a_light_is_no_dead_end() -> None:
    assert not [end for seed in range(10) for end in found(stood(seed))]


def test_a_ride_without_times_tells_none() -> None:
    way = ridden(100.0, 1)
    way[:, 2] = np.nan
    assert not dead_ends(0, LINE, STATION_M, np.full(len(STATION_M), np.nan), way)


def test_every_watch_of_the_ride_must_have_gone_there() -> None:
    ends = [DeadEnd(trace=0, station_m=800.0, far_m=60.0), DeadEnd(trace=2, station_m=500.0, far_m=60.0)]
    crossing_s = np.tile(STATION_M / 5.0, (4, 1))
    crossing_s[3, (STATION_M > 400.0) & (STATION_M < 600.0)] = np.nan
    assert witnessed_by_all(ends, [1, 1, 2, 2], crossing_s, STATION_M) == ends[1:]
    both = [*ends, DeadEnd(trace=1, station_m=810.0, far_m=58.0)]
    assert witnessed_by_all(both, [1, 1, 2, 2], crossing_s, STATION_M) == [*ends, both[2]]
