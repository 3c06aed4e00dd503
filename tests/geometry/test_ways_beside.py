"""What was logged out of reach before the first match of a trace, or after its last."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from polylines import along, away_by_shapely, bundle_of, line_of, turned
from trackspread.geometry.crossings import Crossings, crossings
from trackspread.geometry.matching import Line, match
from trackspread.geometry.points import Bundle
from trackspread.geometry.ways_beside import with_ways_beside

GAP_M = 80.0


def crossed(traces: list[np.ndarray], line: Line) -> tuple[Crossings, Bundle, np.ndarray]:
    bundle = bundle_of(traces, GAP_M)
    station = match(bundle, line, 60.0)
    return crossings(bundle, station, line, GAP_M), bundle, station


def led(traces: list[np.ndarray], line: Line) -> tuple[Crossings, Crossings, Bundle, np.ndarray]:
    found, bundle, station = crossed(traces, line)
    return with_ways_beside(found, bundle, station, line), found, bundle, station


BESIDE = along([(0, -100), (300, -100), (400, 0), (800, 0)])
"""300 m beside the line, 100 m to its right, then over to it."""


def test_a_start_out_of_reach_passes_the_stations_beside_it() -> None:
    """Reckoned back by the way logged: 5 m and a second from point to point; distances by shapely."""
    line = line_of(along([(0, 0), (800, 0)]))
    found, before, bundle, station = led([BESIDE], line)
    joins = int(np.flatnonzero(np.isfinite(station))[0])
    assert abs(bundle.y[joins]) <= 60.0
    lead = line.station_m < station[joins]
    np.testing.assert_array_equal(found.away[0], lead)
    seconds = joins - (station[joins] - line.station_m[lead]) / 5.0
    np.testing.assert_allclose(found.time_s[0, lead], seconds, atol=0.01)
    way = shapely.LineString(BESIDE[: joins + 1])
    apart = [away_by_shapely(way, x) for x in line.x[lead]]
    np.testing.assert_allclose(found.away_m[0, lead], apart, atol=0.5)
    for name in ("time_s", "away_m"):
        np.testing.assert_array_equal(getattr(found, name)[0, ~lead], getattr(before, name)[0, ~lead])
    assert found.offset_m is before.offset_m
    assert not before.away.any()
    left, *_ = led([BESIDE * [1, -1]], line)
    np.testing.assert_allclose(left.away_m, -found.away_m)


def test_a_lead_reaches_back_no_farther_than_its_way_and_its_last_interruption() -> None:
    line = line_of(along([(0, 0), (800, 0)]))
    for begin, trace in ((0, BESIDE[20:]), (3, np.vstack([BESIDE[:3] - [500.0, 0.0], BESIDE[20:]]))):
        found, _, _, station = led([trace], line)
        joins = int(np.flatnonzero(np.isfinite(station))[0])
        lead = line.station_m < station[joins]
        lead &= line.station_m >= station[joins] - 5.0 * (joins - begin)
        np.testing.assert_array_equal(found.away[0], lead)
        way = shapely.LineString(trace[begin : joins + 1])
        apart = [away_by_shapely(way, x) for x in line.x[lead]]
        np.testing.assert_allclose(found.away_m[0, lead], apart, atol=0.5)


def test_who_goes_off_and_leaps_back_or_stops_passes_the_stations_beside() -> None:
    """A tunnel's guess that drifts off and leaps to the exit; a receiver that does not come back."""
    line = line_of(along([(0, 0), (1600, 0)]))
    off = along([(0, 0), (400, 0), (500, -100), (800, -100)])
    leap = np.vstack([off, along([(900, 0), (1600, 0)])])
    for trace in (off, leap):
        found, before, _, station = led([trace], line)
        last = int(np.flatnonzero(np.isfinite(station[: len(off)]))[-1])
        reckoned = station[last] + 5.0 * (len(off) - 1 - last)
        trail = (line.station_m > station[last]) & (line.station_m <= reckoned + 1e-6)
        assert station[last] < 470.0
        assert 750.0 < reckoned < 900.0
        np.testing.assert_array_equal(found.away[0], trail)
        assert not before.away.any()
        way = shapely.LineString(off[last:])
        apart = [away_by_shapely(way, x) for x in line.x[trail]]
        np.testing.assert_allclose(found.away_m[0, trail], apart, atol=0.5)
        seconds = last + (line.station_m[trail] - station[last]) / 5.0
        np.testing.assert_allclose(found.time_s[0, trail], seconds, atol=1.0)  # the corner cuts a step
    assert np.isfinite(found.offset_m[0, -100:]).all()


def test_a_trail_ends_where_the_trace_is_on_the_line_again() -> None:
    """Standing about far off makes way, and still no station is passed twice."""
    line = line_of(along([(0, 0), (1600, 0)]))
    trace = np.vstack([along([(0, 0), (400, 0), (400, -200), (1000, -200)]), along([(600, 0), (1600, 0)])])
    found, _, _, station = led([trace], line)
    back = float(np.nanmin(station[np.flatnonzero(trace[:, 0] == 600.0)[-1] :]))
    assert found.away[0].any()
    assert not (found.away[0] & np.isfinite(found.offset_m[0])).any()
    assert line.station_m[found.away[0]].max() < back


def test_a_lead_and_a_detour_are_both_away() -> None:
    line = line_of(along([(0, 0), (1600, 0)]))
    detour = along([(800, 0), (1000, 0), (1000, 90), (1200, 90), (1200, 0), (1600, 0)])
    found, before, *_ = led([np.vstack([BESIDE[:-1], detour])], line)
    assert before.away[0, 220]
    assert found.away[0, [20, 220]].all()
    assert not found.away[0, 100]


@pytest.mark.parametrize("turn_rad", [0.0, 1.6, 3.5])
@pytest.mark.parametrize(("angle_deg", "away"), [(70.0, True), (80.0, False), (110.0, False)])
def test_a_way_across_the_line_is_no_lead(angle_deg: float, away: bool, turn_rad: float) -> None:
    """It must make a quarter of its length along the line: cos 75.5 degrees."""
    line = line_of(turned(along([(0, 0), (800, 0)]), turn_rad, (3000.0, -2000.0)))
    angle = np.radians(angle_deg)
    across = along([(400 - 300 * np.cos(angle), -300 * np.sin(angle)), (400, 0), (800, 0)])
    trace, beside = (turned(points, turn_rad, (3000.0, -2000.0)) for points in (across, BESIDE))
    elsewhere = trace + 5000.0
    found, before, *_ = led([elsewhere, trace, beside], line)
    assert not found.away[0].any()
    assert found.away[1].any() == away
    assert found.away[2, 20]
    if not away:
        np.testing.assert_array_equal(found.time_s[1], before.time_s[1])


def test_a_trace_that_begins_on_the_line_has_no_lead() -> None:
    line = line_of(along([(0, 0), (800, 0)]))
    found, before, *_ = led([along([(100, 3), (800, 3)])], line)
    assert not found.away.any()
    np.testing.assert_array_equal(found.time_s, before.time_s)


def test_what_is_passed_out_of_reach_ends_where_the_trace_is_back() -> None:
    """Off the line from 300 m on, beside it to 700 m, then back from 500 to 600 m: away between, nowhere else."""
    line = line_of(along([(0, 0), (800, 0)]))
    strays = along([(0, 0), (300, 0), (330, -100), (700, -100)])
    back = along([(500, 0), (600, 0)])
    found, before, _, _ = led([np.concatenate([strays, back])], line)
    away = found.away[0] & ~before.away[0]
    assert line.station_m[away].min() == pytest.approx(310.0, abs=10.0)
    assert line.station_m[away].max() == pytest.approx(495.0, abs=10.0)
    assert not (found.away[0] & np.isfinite(before.offset_m[0])).any()
    assert found.away_m[0, away].max() == pytest.approx(100.0, abs=1.0)
