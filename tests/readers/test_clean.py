"""Repairs that hold for every format: times only rise, as few as possible are lost, zero is no place."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from trackspread.model import Trace
from trackspread.readers.clean import as_trace
from trackspread.readers.notes import CODES, Notes

BASE_S = 1_940_911_200.0


def cleaned(
    time_s: list[float], lon: list[float] | None = None, lat: list[float] | None = None
) -> Trace | None:
    count = len(time_s)
    return as_trace(
        file="a", format="x", part=0, name="", time_s=np.array(time_s), receiver="", ride="", set_aside=0,
        lon_deg=np.array(lon if lon is not None else np.linspace(1, 2, count)),
        lat_deg=np.array(lat if lat is not None else np.linspace(1, 2, count)), elevation_m=np.zeros(count),
        break_before=np.zeros(count, dtype=bool), start_s=float("nan"), notes=Notes(), place=str,
    )  # fmt: skip


def longest_rising(values: list[float]) -> int:
    """Length of the longest rising run by trying all, the definition itself."""
    for size in range(len(values), 0, -1):
        for chosen in combinations(values, size):
            if all(a <= b for a, b in pairwise(chosen)):
                return size
    return 0


@settings(deadline=None)
@given(st.lists(st.integers(0, 12), min_size=1, max_size=9))
def test_the_fewest_times_are_left_out(values: list[int]) -> None:
    trace = cleaned([BASE_S + value for value in values])
    assert trace is not None
    kept = trace.time_s[np.isfinite(trace.time_s)]
    stuck = any(f.code == "stuck clock" for f in trace.findings)
    twice = sum(f.count for f in trace.findings if f.code == "same time")
    assert (np.diff(kept) > 0).all()
    assert len(kept) + twice == (0 if stuck else longest_rising([float(v) for v in values]))


times = st.one_of(st.floats(-1e12, 1e12), st.just(float("nan")), st.floats(BASE_S, BASE_S + 100))


@settings(deadline=None)
@given(st.lists(st.tuples(times, st.floats(-180, 180), st.floats(-90, 90)), min_size=1, max_size=30))
def test_whatever_comes_in_the_trace_is_in_order(points: list[tuple[float, float, float]]) -> None:
    time_s, lon, lat = (list(column) for column in zip(*points, strict=True))
    trace = cleaned(time_s, lon, lat)
    if trace is None:
        return
    known = trace.time_s[np.isfinite(trace.time_s)]
    assert (np.diff(known) > 0).all()
    assert ((trace.lon_deg >= -180.0) & (trace.lon_deg < 180.0)).all()
    assert len(trace.lon_deg) + trace.points_set_aside == len(points)
    assert {f.code for f in trace.findings} <= set(CODES)


def test_zero_is_set_aside_far_from_the_trace_only() -> None:
    time_s = [BASE_S + i for i in range(4)]
    far = cleaned(time_s, [0.0, 8.0, 8.1, 8.2], [0.0, 47.0, 47.1, 47.2])
    near = cleaned(time_s, [0.0, 0.001, 0.002, 0.003], [0.0, 0.0, 0.0, 0.0])
    only = cleaned(time_s, [0.0] * 4, [0.0] * 4)
    assert [len(trace.lon_deg) if trace else 0 for trace in (far, near, only)] == [3, 4, 4]


def test_a_break_before_a_point_that_goes_is_kept_at_the_next() -> None:
    breaks = np.array([False, False, True, False])
    trace = as_trace(
        file="a", format="x", part=0, name="", time_s=BASE_S + np.array([0.0, 1, 1, 2]), receiver="", ride="",
        set_aside=0, lon_deg=np.arange(1.0, 5), lat_deg=np.arange(1.0, 5), elevation_m=np.zeros(4),
        break_before=breaks, start_s=BASE_S - 9, notes=Notes(), place=str,
    )  # fmt: skip
    assert trace is not None
    assert trace.break_before.tolist() == [False, False, True]
    assert trace.start_s == BASE_S - 9


# --- a start at the place where the last ride ended ---------------------------------------------------


def ridden(
    stale_m: float, stands: int = 8, wait_s: float = 1.0, speed_m_s: float = 5.5, drift_m: float = 0.0
) -> Trace:
    """Ride north along a meridian, one point a second, after ``stands`` points ``stale_m`` to the south.

    One degree of a great circle of the mean Earth is 111,195 m.
    """
    before = -stale_m + drift_m * np.arange(stands)
    north_m = np.concatenate([before, speed_m_s * np.arange(200.0)])
    time_s = BASE_S + np.concatenate([np.arange(stands), stands - 1 + wait_s + np.arange(200.0)])
    trace = cleaned(time_s.tolist(), [20.0] * len(north_m), (75.0 + north_m / 111_195.0).tolist())
    assert trace is not None
    return trace


def aside(trace: Trace) -> int:
    return sum(f.count for f in trace.findings if f.code == "stale start")


def test_a_start_where_the_last_ride_ended_is_set_aside() -> None:
    """The first position of the ride is then the first fix; what was logged before is none."""
    for stale_m, wait_s in ((150.0, 1.0), (3000.0, 1.0), (3000.0, 20.0)):
        trace = ridden(stale_m, wait_s=wait_s)
        assert (aside(trace), trace.points_set_aside) == (8, 8)
        assert trace.time_s[0] == BASE_S + 7 + wait_s
        assert trace.lat_deg[0] == 75.0
    assert aside(ridden(240.0, stands=1)) == 1


def test_what_may_have_been_ridden_stays() -> None:
    """A short leap is a fix that settles; points that move are a ride; a slow leap may be a tunnel or a train."""
    assert aside(ridden(90.0)) == 0
    assert aside(ridden(600.0, drift_m=5.5)) == 0
    assert aside(ridden(300.0, wait_s=30.0)) == 0
    assert aside(ridden(3000.0, wait_s=121.0)) == 0
    assert aside(ridden(150.0, speed_m_s=40.0)) == 0
    assert aside(ridden(0.0, stands=30)) == 0


def test_one_wild_point_after_a_right_one_is_no_stale_start() -> None:
    lat = 75.0 + 5.5 * np.arange(100.0) / 111_195.0
    lat[1] += 0.01
    trace = cleaned((BASE_S + np.arange(100.0)).tolist(), [20.0] * 100, lat.tolist())
    assert trace is not None
    assert (aside(trace), len(trace.lat_deg)) == (0, 100)


def test_a_recording_taken_up_elsewhere_is_no_stale_start() -> None:
    lat = 75.0 + np.concatenate([np.full(5, -0.02), 5.5 * np.arange(100.0) / 111_195.0])
    broken = np.zeros(105, dtype=bool)
    broken[5] = True
    trace = as_trace(
        file="a", format="x", part=0, name="", time_s=BASE_S + np.arange(105.0), receiver="", ride="",
        set_aside=0, lon_deg=np.full(105, 20.0), lat_deg=lat, elevation_m=np.zeros(105), break_before=broken,
        start_s=float("nan"), notes=Notes(), place=str,
    )  # fmt: skip
    assert trace is not None
    assert aside(trace) == 0
