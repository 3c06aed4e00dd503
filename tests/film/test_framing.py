"""Flat ground against geodesics, and which way up it is seen."""

from __future__ import annotations

import math

import numpy as np
import pytest
from pyproj import Geod

from trackspread.film.framing import flat, framed, turned

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
