"""Making traces ready: thinning, standing, gaps."""

from __future__ import annotations

import numpy as np
import pytest

from polylines import bundle_of
from trackspread.geometry.points import join, prepare, standing


def ridden(speed_m_s: float, seconds: int, every_s: float = 1.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    time = np.arange(0.0, seconds + 1e-9, every_s)
    return speed_m_s * time, np.zeros(len(time)), 1000.0 + time


def with_a_stop(
    stop_s: int, speed: float = 5.0, noise_m: float = 0.0, before_s: int = 60, after_s: int = 60
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Ride for a minute, stand for ``stop_s``, ride for a minute."""
    time = np.arange(0.0, before_s + stop_s + after_s + 1)
    x = speed * (np.minimum(time, before_s) + np.maximum(time - before_s - stop_s, 0.0))
    rng = np.random.default_rng(4)
    return x + noise_m * rng.standard_normal(len(x)), noise_m * rng.standard_normal(len(x)), time


def test_a_bundle_knows_whose_points_are_whose() -> None:
    bundle = bundle_of([np.array([[0, 0], [3, 4], [3, 4]]), np.array([[100, 0], [106, 8]])])
    assert bundle.traces == 2
    assert (bundle.of(0), bundle.of(1)) == (slice(0, 3), slice(3, 5))
    assert bundle.owner.tolist() == [0, 0, 0, 1, 1]
    assert bundle.step_m.tolist() == [0, 5, 0, 0, 10]
    assert bundle.travel_m.tolist() == [0, 5, 5, 0, 10]
    assert bundle.gap_before.tolist() == [True, False, False, True, False]


def test_a_point_heads_from_the_one_before_to_the_one_after() -> None:
    ways = [
        np.array([[0, 0], [10, 0], [20, 0], [20, 30], [20, 200], [20, 230]]),
        np.array([[0, 0], [0.0, 1.0], [0.0, 3.0], [0.0, 3.0]]),
    ]
    x, y = bundle_of(ways).heading
    corner, end = (1, 3) / np.sqrt(10), (0, 1)
    np.testing.assert_allclose(
        np.stack([x, y], axis=1)[:6], [(1, 0), (1, 0), corner, end, end, end], atol=1e-12
    )
    np.testing.assert_allclose(x[6:], 0.0)
    np.testing.assert_allclose(y[6:], np.array([1.0, 3.0, 2.0, 0.0]) / 6.0)  # less than 6 m of way tell less


def test_selecting_traces_keeps_their_points_in_the_order_asked_for() -> None:
    traces = [np.random.default_rng(k).normal(0, 50, (k + 2, 2)) for k in range(4)]
    picked = bundle_of(traces).select([3, 1])
    for name in ("x", "y", "time_s", "gap_before", "owner", "start"):
        np.testing.assert_array_equal(getattr(picked, name), getattr(bundle_of([traces[3], traces[1]]), name))


@pytest.mark.parametrize("every_s", [0.1, 0.2, 0.5])
def test_fast_logging_is_thinned_to_one_point_a_second(every_s: float) -> None:
    x, y, time = ridden(5.0, 100, every_s)
    kept_x, _, kept_time, gap = prepare(x, y, time, np.zeros(len(x), bool), 80.0)
    np.testing.assert_allclose(kept_time, 1000.0 + np.arange(101), atol=1e-6)
    np.testing.assert_allclose(kept_x, 5.0 * np.arange(101), atol=1e-6)
    assert not gap.any()


def test_seconds_are_counted_from_the_first_point_wherever_the_clock_stands() -> None:
    x, y, time = ridden(5.0, 50, 0.2)
    kept = prepare(x, y, time + 0.37, np.zeros(len(x), bool), 80.0)
    np.testing.assert_allclose(kept[2], 1000.37 + np.arange(51), atol=1e-6)


def test_three_fast_points_are_thinned_to_one() -> None:
    x, y, time = ridden(5.0, 1, 0.25)
    assert len(prepare(x[:3], y[:3], time[:3], np.zeros(3, bool), 80.0)[0]) == 1
    assert len(prepare(x, y, time, np.zeros(5, bool), 80.0)[0]) == 2


@pytest.mark.parametrize("every_s", [0.95, 1.0, 3.0])
def test_slow_logging_is_kept_whole(every_s: float) -> None:
    x, y, time = ridden(5.0, 60, every_s)
    kept = prepare(x, y, time, np.zeros(len(x), bool), 80.0)
    np.testing.assert_array_equal(kept[0], x)
    np.testing.assert_array_equal(kept[2], time)


def test_no_point_without_a_time_is_thinned_away() -> None:
    x, y, time = ridden(5.0, 20, 0.25)
    time[10:14] = np.nan
    kept = prepare(x, y, time, np.zeros(len(x), bool), 80.0)
    assert np.isnan(kept[2]).sum() == 4
    nothing = prepare(x, y, np.full(len(x), np.nan), np.zeros(len(x), bool), 80.0)
    np.testing.assert_array_equal(nothing[0], x)


def test_two_points_are_never_thinned() -> None:
    x, y, time = ridden(5.0, 1, 0.5)
    assert len(prepare(x[:2], y[:2], time[:2], np.zeros(2, bool), 80.0)[0]) == 2


def test_a_long_step_is_a_gap_and_a_break_is_one_from_a_quarter_of_it() -> None:
    x = np.cumsum([0.0, 5, 80, 5, 81, 5, 20, 5, 21, 5, 50])
    broken = np.zeros(11, bool)
    broken[[6, 8]] = True
    *_, gap = prepare(x, np.zeros(11), np.full(11, np.nan), broken, 80.0)
    assert np.flatnonzero(gap).tolist() == [4, 8]


def test_a_break_before_a_point_that_is_thinned_away_is_kept_by_the_next() -> None:
    x, y, time = ridden(5.0, 40, 0.25)
    x[82:] += 40.0
    broken = np.zeros(len(x), bool)
    broken[82] = True
    _, _, kept_time, gap = prepare(x, y, time, broken, 80.0)
    assert kept_time[gap].tolist() == [1021.0]


@pytest.mark.parametrize(("broken_at", "gaps"), [(100, []), (121, [121.0])])
def test_a_pause_at_a_light_is_a_gap_only_where_way_is_missing(broken_at: int, gaps: list[float]) -> None:
    x, y, time = with_a_stop(60)
    x[121:] += 30.0
    broken = np.zeros(len(x), bool)
    broken[broken_at] = True
    _, _, kept_time, gap = prepare(x, y, time, broken, 80.0)
    assert kept_time[gap].tolist() == gaps


def test_a_red_light_weighs_no_more_than_a_metre_of_road() -> None:
    x, y, time = with_a_stop(120, noise_m=0.5)
    kept_x, kept_y, kept_time, gap = prepare(x, y, time, np.zeros(len(x), bool), 80.0)
    at_light = (kept_time > 70) & (kept_time < 170)
    assert not at_light.any()
    first, last = np.flatnonzero(np.diff(kept_time) > 50)[0] + np.array([0, 1])
    assert kept_x[first] == kept_x[last] == pytest.approx(300.0, abs=0.3)
    assert kept_y[first] == kept_y[last] == pytest.approx(0.0, abs=0.3)
    assert kept_time[first] == pytest.approx(58, abs=6)
    assert kept_time[last] == pytest.approx(182, abs=6)
    assert not gap.any()
    inside = (time >= kept_time[first]) & (time <= kept_time[last])
    assert kept_x[first] == np.median(x[inside])
    assert kept_y[last] == np.median(y[inside])


def test_the_traces_given_are_not_changed() -> None:
    x, y, time = with_a_stop(120, noise_m=0.5)
    before = x.copy(), y.copy(), time.copy()
    prepare(x, y, time, np.zeros(len(x), bool), 80.0)
    for given, kept in zip((x, y, time), before, strict=True):
        np.testing.assert_array_equal(given, kept)


def test_several_stops_each_keep_their_place() -> None:
    x1, y1, t1 = with_a_stop(40)
    x = np.concatenate([x1, x1 + 700.0])
    time = np.concatenate([t1, t1 + 170.0])
    kept_x, _, kept_time, _ = prepare(x, np.tile(y1, 2), time, np.zeros(len(x), bool), 80.0)
    standing_at = [kept_x[k] for k in np.flatnonzero(np.diff(kept_time) > 25)]
    assert standing_at == pytest.approx([300.0, 1000.0], abs=0.5)


@pytest.mark.parametrize(
    ("speed", "stands"), [(0.5, True), (0.59, True), (0.61, False), (1.2, False), (5.0, False)]
)
def test_standing_is_slower_than_any_walk(speed: float, stands: bool) -> None:
    x, y, time = ridden(speed, 60)
    assert (standing(x, y, time) == stands).all()
    assert (standing(y, x, time) == stands).all()


@pytest.mark.parametrize(("stop_s", "stands"), [(6, False), (8, False), (10, True), (30, True)])
def test_a_stop_counts_once_it_fills_the_window(stop_s: int, stands: bool) -> None:
    """In ten seconds at 5 m/s with a stop of d seconds the way is 5 (10 - d): below 6 m from d = 8.8 on."""
    slow = standing(*with_a_stop(stop_s))
    assert slow.any() == stands
    if stands:
        middle = np.flatnonzero(slow)
        assert middle.mean() == pytest.approx(60 + stop_s / 2, abs=0.5)
        assert len(middle) == pytest.approx(stop_s - 8, abs=2)


def test_standing_needs_times_that_rise() -> None:
    x, y, time = with_a_stop(60)
    assert standing(x, y, time).any()
    assert not standing(x, y, np.full(len(x), np.nan)).any()
    twice = time.copy()
    twice[30] = twice[29]
    assert not standing(x, y, twice).any()
    assert not standing(x[:2], y[:2], time[:2]).any()


def test_points_without_a_time_do_not_hide_a_stop() -> None:
    x, y, time = with_a_stop(60)
    time[::4] = np.nan
    slow = standing(x, y, time)
    assert slow[np.isfinite(time)][50:85].all()
    assert not slow[np.isnan(time)].any()


def test_standing_at_the_very_start_and_end() -> None:
    x, _, _ = with_a_stop(0)
    x = np.concatenate([np.zeros(40), x, np.full(40, x[-1])])
    time = np.arange(len(x), dtype=float)
    slow = standing(x, np.zeros(len(x)), time)
    assert slow[:35].all()
    assert slow[-35:].all()
    assert not slow[50:-50].any()
    kept_x, _, kept_time, _ = prepare(x, np.zeros(len(x)), time, np.zeros(len(x), bool), 80.0)
    assert (kept_time[0], kept_time[-1]) == (0.0, time[-1])
    assert len(kept_x) < len(x) - 65


def test_a_stop_of_two_points_is_left_alone_and_hides_no_later_one() -> None:
    """Logged every 5 s: a stop of 10 s shows in two points or so, one of two minutes in many."""
    time = 5.0 * np.arange(80)
    ridden_s = np.minimum(time, 100) + np.clip(time - 112, 0, 88) + np.maximum(time - 320, 0)
    x = 5.0 * ridden_s
    slow = standing(x, np.zeros(80), time)
    runs = np.split(np.flatnonzero(slow), np.flatnonzero(np.diff(np.flatnonzero(slow)) > 1) + 1)
    assert [len(run) < 3 for run in runs] == [True, False]
    kept_x, _, kept_time, _ = prepare(x, np.zeros(80), time, np.zeros(80, bool), 80.0)
    first = time[runs[0]]
    assert np.isin(first, kept_time).all()
    np.testing.assert_array_equal(kept_x[np.isin(kept_time, first)], x[runs[0]])
    inner = time[runs[1]][1:-1]
    assert not np.isin(inner, kept_time).any()
    assert np.isin(time[runs[1]][[0, -1]], kept_time).all()


def test_a_stop_of_three_points_is_collapsed() -> None:
    time = 5.0 * np.arange(40)
    x = 5.0 * (np.minimum(time, 100) + np.maximum(time - 120, 0))
    slow = np.flatnonzero(standing(x, np.zeros(40), time))
    kept_time = prepare(x, np.zeros(40), time, np.zeros(40, bool), 80.0)[2]
    assert len(slow) == 3
    assert sorted(set(time) - set(kept_time)) == [time[slow[1]]]


def test_joining_marks_every_first_point_as_after_a_gap() -> None:
    part = (np.arange(3.0), np.zeros(3), np.arange(3.0), np.array([False, True, False]))
    bundle = join([part, part])
    assert bundle.gap_before.tolist() == [True, True, False, True, True, False]
    assert part[3].tolist() == [False, True, False]
