"""A way that was ridden takes the time that its length takes; an error of the receiver takes none."""

from __future__ import annotations

import numpy as np
import pytest

from trackspread.statistics.astray.way_ridden import way_was_ridden
from world.noise import ornstein_uhlenbeck
from world.routes import rounded

STEP_M = 5.0
STATION_M = np.arange(0.0, 3001.0, STEP_M)
LINE = np.column_stack([STATION_M, np.zeros_like(STATION_M)])


def turned_off(far_m: float, along_m: float, degrees: float = 90.0) -> np.ndarray:
    """Return a way east that turns off to the left at 1,000 m, and comes back, places every metre."""
    lean = far_m / np.tan(np.radians(degrees))
    corners = [
        (0.0, 0.0), (1000.0, 0.0), (1000.0 + lean, far_m), (1000.0 + lean + along_m, far_m),
        (1000.0 + 2 * lean + along_m, 0.0), (3000.0, 0.0),
    ]  # fmt: skip
    way = rounded(np.array(corners), 6.0)
    return np.column_stack([way.east_m, way.north_m])


def recorded(places: np.ndarray, seed: int, speed_m_s: float = 5.0, every_s: float = 1.0) -> np.ndarray:
    """Return points (P, 3) of a ride of even speed, with errors of 3 m that are alike over 60 s."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))])
    at_s = np.arange(0.0, along[-1] / speed_m_s, every_s)
    error = 3.0 * ornstein_uhlenbeck(np.random.default_rng(seed), at_s, 60.0)
    true = np.column_stack([np.interp(speed_m_s * at_s, along, c) for c in places.T])
    return np.column_stack([true + error, at_s])


def crossed_s(points: np.ndarray) -> np.ndarray:
    """Return when points that run east passed each station: the first moment beyond it."""
    best = np.maximum.accumulate(points[:, 0])
    return points[np.minimum(np.searchsorted(best, STATION_M), len(best) - 1), 2]


def judged(points: np.ndarray, from_m: float, to_m: float) -> bool:
    first, last = round(from_m / STEP_M), round(to_m / STEP_M)
    return way_was_ridden(first, last, LINE, STATION_M, crossed_s(points), points)


@pytest.mark.parametrize("speed_m_s", [1.4, 5.0])
@pytest.mark.parametrize(("far_m", "along_m"), [(60.0, 150.0), (120.0, 60.0), (200.0, 400.0)])
def test_a_wrong_turn_was_ridden(far_m: float, along_m: float, speed_m_s: float) -> None:
    told = [
        judged(recorded(turned_off(far_m, along_m), seed, speed_m_s), 1000, 1000 + along_m)
        for seed in range(10)
    ]
    assert sum(told) >= 9


def slipped(seed: int, far_m: float, in_s: float, stands: bool = False) -> np.ndarray:
    """Return a ride along the line whose receiver goes aside within some seconds, and comes back so.

    Its rider goes on as ever, or stands at 1,000 m while it goes aside.
    """
    points = recorded(LINE, seed)
    if stands:
        before, wait = points[points[:, 0] < 1000.0], points[points[:, 0] >= 1000.0][:1].repeat(30, axis=0)
        after = points[points[:, 0] >= 1000.0]
        points = np.concatenate([before, wait, after])
        points[:, 2] = np.arange(len(points), dtype=float)
    start = float(points[np.argmax(points[:, 0] >= 1000.0), 2])
    rise = np.clip((points[:, 2] - start) / in_s, 0.0, 1.0)
    fall = np.clip((start + 60.0 + in_s - points[:, 2]) / in_s, 0.0, 1.0)
    points[:, 1] += far_m * rise * fall
    return points


@pytest.mark.parametrize("in_s", [1.0, 5.0, 12.0, 30.0])
@pytest.mark.parametrize("far_m", [25.0, 60.0, 120.0])
def test_a_receiver_that_slips_aside_while_its_rider_goes_on_was_not_there(far_m: float, in_s: float) -> None:
    told = [judged(slipped(seed, far_m, in_s), 1000, 1300) for seed in range(10)]
    assert not any(told)


@pytest.mark.parametrize("in_s", [1.0, 12.0, 30.0])
def test_nor_was_one_that_slips_at_a_red_light_and_comes_back_under_way(in_s: float) -> None:
    assert not any(judged(slipped(seed, 60.0, in_s, stands=True), 1000, 1300) for seed in range(10))


def test_a_flat_angle_says_nothing() -> None:
    assert not any(judged(recorded(turned_off(60.0, 200.0, 20.0), s), 1050, 1450) for s in range(10))


def test_without_times_or_a_way_back_nobody_can_tell() -> None:
    points = recorded(turned_off(120.0, 200.0), 1)
    never = np.full(len(STATION_M), np.nan)
    timeless = np.column_stack([points[:, :2], np.full(len(points), np.nan)])
    assert judged(points, 1000, 1200)
    assert not way_was_ridden(200, 240, LINE, STATION_M, never, points)
    assert not way_was_ridden(200, 240, LINE, STATION_M, crossed_s(points), timeless)
    gone = points[(points[:, 0] < 1000.0) | (points[:, 1] > 60.0)]
    gone = gone[gone[:, 0] < 1150.0]
    assert not judged(gone, 1000, 1140)
