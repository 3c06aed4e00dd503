"""Shots: frames that hold what they show, flat ground against geodesics, and times of entry."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from pyproj import Geod

from records import make_analysis
from trackspread.film.storyboard import flat, framed, scenes, turned

ASPECT = 16 / 9
WGS84 = Geod(ellps="WGS84")


@pytest.mark.parametrize("origin", [(69.4, -48.9), (179.9999, 51.0), (15.0, 89.99), (0.0, 0.0)])
def test_flat_ground_keeps_lengths_and_directions(origin: tuple[float, float]) -> None:
    """Geodesics on WGS 84 (PROJ, Karney 2013): 10 km out, within 2 ppm and 0.001 degrees."""
    bearing = np.arange(0.0, 360.0, 15.0)
    lon, lat, _ = WGS84.fwd(np.full(24, origin[0]), np.full(24, origin[1]), bearing, np.full(24, 10_000.0))
    x, y = flat(np.array(lon), np.array(lat), origin)
    assert np.hypot(x, y) == pytest.approx(10_000.0, rel=2e-6)
    assert np.degrees(np.angle(np.exp(1j * (np.arctan2(x, y) - np.radians(bearing))))) == pytest.approx(
        0, abs=1e-3
    )


@pytest.mark.parametrize("seed", range(5))
def test_every_frame_holds_its_line_and_its_traces(seed: int) -> None:
    for scene in scenes(make_analysis(seed=seed, place=(179.99, 60.0)), ASPECT):
        for shot in scene.shots:
            here = (scene.station_m >= shot.from_m) & (scene.station_m <= shot.to_m)
            lines = [(scene.x_m[here], scene.y_m[here])]
            if shot.kind == "place":
                for path in scene.paths:
                    inside = (path.station_m >= shot.from_m) & (path.station_m <= shot.to_m)
                    lines.append((path.x_m[inside], path.y_m[inside]))
            for x, y in lines:
                across, up = turned(x - shot.centre_m[0], y - shot.centre_m[1], shot.turn_rad)
                assert (np.abs(across) < shot.half_width_m).all()
                assert (np.abs(up) < shot.half_height_m).all()
            assert shot.half_width_m / shot.half_height_m == pytest.approx(ASPECT)


def test_north_stays_up_unless_turning_gains_much() -> None:
    east = np.column_stack([np.linspace(0, 1000, 50), np.zeros(50)])
    assert framed(east, ASPECT)[0] == 0.0
    north = east[:, ::-1]
    turn, centre, half = framed(north, ASPECT)
    assert 60.0 <= math.degrees(turn) <= 120.0
    assert half[0] > half[1]
    assert centre == pytest.approx((0.0, 500.0))
    x, _ = turned(north[:, 0], north[:, 1], turn)
    assert x[-1] > x[0]


def test_traces_enter_when_their_ride_does() -> None:
    """A trace that logged nothing at the start enters with its companion, not when it first logs."""
    whole = make_analysis(routes=1)
    route = whole.routes[0]
    crossing = route.crossing_s.copy()
    crossing[2, :100] = np.nan
    (scene,) = scenes(
        dataclasses.replace(whole, routes=(dataclasses.replace(route, crossing_s=crossing),)), ASPECT
    )
    (mate,) = (t.number for t in route.traces if t.ride == route.traces[2].ride and t.number != 2)
    assert np.isfinite(crossing[mate, 0])
    assert scene.shots[0].enter_s[2] == crossing[mate, 0]


def test_a_lone_trace_enters_by_the_time_the_others_took() -> None:
    whole = make_analysis(routes=1, pairs=False)
    route = whole.routes[0]
    crossing = route.crossing_s.copy()
    true = crossing[0, 0]
    crossing[0, :100] = np.nan
    (scene,) = scenes(
        dataclasses.replace(whole, routes=(dataclasses.replace(route, crossing_s=crossing),)), ASPECT
    )
    assert scene.shots[0].enter_s[0] == pytest.approx(true, abs=5.0)


def test_traces_without_times_are_drawn_at_one_pace() -> None:
    scene = scenes(make_analysis(routes=2), ASPECT)[1]
    assert not scene.timed
    for shot in scene.shots:
        assert np.isfinite(shot.enter_s).all()
        assert shot.seconds > 0
    assert all(np.isfinite(path.time_s).any() for path in scene.paths)


def test_words_say_verdict_rule_and_who() -> None:
    (scene,) = scenes(make_analysis(routes=1), ASPECT)
    whole, *places = scene.shots
    assert "spread" in whole.lines[0]
    assert whole.lines[1] == "6 traces from 3 rides, 2 watches"
    assert {shot.verdict for shot in places} == {"steady", "wavering", "torn", "thin"}
    assert all(shot.lines[2].startswith(f"{shot.verdict}: ") for shot in places)
    assert all(line.isprintable() for shot in scene.shots for line in shot.lines)
