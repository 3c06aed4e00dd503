"""Traces of a route on their grid: distances, numbers of rides and receivers, what is a gap."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackspread.options import Options
from trackspread.pipeline.tracks import on_grid, own_gap_m
from world import Receiver, simulate
from world.witnesses import as_witnesses

PAIR = (Receiver(name="alder"), Receiver(name="bilberry"))
OPTIONS = Options()


def test_traces_keep_their_distances_on_the_grid_and_their_names_become_numbers() -> None:
    world = simulate("winding", seed=1, rides=3, length_m=800, receivers=PAIR, lights=0)
    tracks = on_grid(tuple(as_witnesses(world)), OPTIONS)
    assert tracks.ride.tolist() == [0, 0, 1, 1, 2, 2]
    assert tracks.receiver.tolist() == [0, 1, 0, 1, 0, 1]
    for number, recording in enumerate(world.recordings):
        part = tracks.bundle.of(number)
        east, north = world.globe.to_plane(recording.lon_deg, recording.lat_deg)
        expected = np.hypot(np.diff(east), np.diff(north))
        np.testing.assert_allclose(tracks.bundle.step_m[part][1:], expected, rtol=1e-5, atol=1e-5)


def test_a_trace_without_a_ride_is_a_ride_of_its_own() -> None:
    world = simulate("winding", seed=1, rides=3, length_m=800)
    tracks = on_grid(tuple(replace(w, ride="") for w in as_witnesses(world)), OPTIONS)
    assert sorted(tracks.ride.tolist()) == [0, 1, 2]


def test_the_utm_grid_is_used_when_asked_for() -> None:
    witnesses = tuple(as_witnesses(simulate("winding", seed=1, rides=2, length_m=800)))
    assert "+proj=utm" in on_grid(witnesses, Options(grid="utm")).grid.proj4
    assert "+proj=tmerc" in on_grid(witnesses, OPTIONS).grid.proj4


def test_a_gap_is_what_is_long_for_this_receiver() -> None:
    """80 m for one a second; 1.5 times the 95 % step for one that logs seldom; never above 400 m."""

    def gap(*steps: float) -> float:
        return own_gap_m(np.cumsum([0.0, *steps]), np.zeros(len(steps) + 1), 80.0)

    assert gap(*[5.5] * 200) == 80.0
    assert gap(*[5.5] * 200, 300.0) == 80.0, "a few gaps do not make a habit"
    assert gap(*[90.0] * 40) == pytest.approx(135.0)
    assert gap(*[0.0] * 500, *[90.0] * 40) == pytest.approx(135.0), "standing is no step"
    assert gap(*[900.0] * 40) == 400.0
    assert gap(0.0, 0.0) == 80.0
