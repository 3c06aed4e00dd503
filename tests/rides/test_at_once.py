"""Recordings made at once: against the definition, pair by pair, and many of them at one time."""

from __future__ import annotations

import time

import numpy as np
import pytest

from trackspread.geometry.sphere import places_m
from trackspread.model import Trace
from trackspread.rides.at_once import joined_rides, made_at_once, of_two_watches, timed

NOON_S = 1_940_932_800.0  # 2031-07-04T12:00:00Z


def trace(start_s: float, seconds: int, lon: float, from_s: float, seed: int) -> Trace:
    """A ride north at 5.6 m/s that begins ``from_s`` along the way, with errors of 1 m."""
    t = np.arange(float(seconds))
    east, north = np.random.default_rng(seed).normal(0.0, 1e-5, (2, seconds))
    return Trace(
        file=f"{seed}.gpx", format="GPX 1.1", time_s=NOON_S + start_s + t, lon_deg=lon + east,
        lat_deg=75.0 + 5e-5 * (from_s + t) + north, elevation_m=np.full(seconds, np.nan),
        break_before=np.zeros(seconds, dtype=bool),
    )  # fmt: skip


def ran_together(a: Trace, b: Trace) -> bool:
    """The definition, by numpy's interpolation of one pair alone."""
    start, end = max(a.time_s[0], b.time_s[0]), min(a.time_s[-1], b.time_s[-1])
    if end - start < 0.3 * min(np.ptp(a.time_s), np.ptp(b.time_s)):
        return False
    at = np.linspace(start, end, 15)
    here, *there = (
        np.stack([np.interp(t, own.time_s, axis) for axis in places_m(own.lon_deg, own.lat_deg).T], axis=1)
        for own, t in [(a, at)] + [(b, at + shift) for shift in np.linspace(-120, 120, 25)]
    )
    nearest = np.min([np.linalg.norm(here - place, axis=1) for place in there], axis=0)
    return bool(np.median(nearest) < 150.0)


def test_pairs_are_those_of_the_definition() -> None:
    rng = np.random.default_rng(5)
    for _ in range(12):
        starts = rng.choice([0.0, 300.0, 4000.0], 14) + rng.integers(-130, 130, 14)
        traces = [
            trace(
                start, int(rng.choice([90, 600, 1500])), -87.3 + rng.choice([0.0, 0.004, 0.01, 0.1]),
                max(start, 0.0) + rng.integers(-60, 60), k,
            )
            for k, start in enumerate(starts)
        ]  # fmt: skip
        expected = {(i, j) for j in range(14) for i in range(j) if ran_together(traces[i], traces[j])}
        assert set(made_at_once(timed(traces))) == expected


def test_a_copy_is_no_second_watch() -> None:
    one, copy, other = (trace(0.0, 300, -87.3, 0.0, seed) for seed in (1, 1, 2))
    recorded = timed([one, copy, other])
    together = made_at_once(recorded)
    assert sorted(together) == [(0, 1), (0, 2), (1, 2)]
    assert sorted(of_two_watches(recorded, together)) == [(0, 2), (1, 2)]


@pytest.mark.parametrize(("apart_deg", "rides"), [(0.0, 1), (0.02, 1500)])
def test_many_recordings_at_one_time_take_seconds(apart_deg: float, rides: int) -> None:
    """100 of them once took 15 s, four times as many six times as long."""
    traces = [trace(0.0, 60, -87.3 + apart_deg * k, 0.0, k) for k in range(1500)]
    begun = time.process_time()
    recorded = timed(traces)
    groups = joined_rides(recorded, made_at_once(recorded), [""] * 1500, [""] * 1500)
    assert time.process_time() - begun < 15.0
    assert len(groups) == rides
