"""Grids against geodesics: places without seams, true scales, and round trips.

The worked examples of mapping agencies stand in ``published/test_published_grids.py``.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from trackspread.geometry.projection import POLAR_LATITUDE_DEG, Grid, mean_position

WGS84 = Geod(ellps="WGS84")
few = settings(max_examples=40, deadline=None, derandomize=True)
longitudes = st.floats(-180, 179.999)
latitudes = st.floats(-90, 90)


def around(lon: float, lat: float, seed: int = 1, reach_m: float = 3000.0) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    azimuth, distance = rng.uniform(0, 360, 40), rng.uniform(0, reach_m, 40)
    lons, lats, _ = WGS84.fwd(np.full(40, lon), np.full(40, lat), azimuth, distance)
    return np.asarray(lons), np.asarray(lats)


@few
@given(longitudes, latitudes)
def test_distances_and_angles_on_the_grid_are_those_of_the_ellipsoid(lon: float, lat: float) -> None:
    """Karney's geodesics (J. Geodesy 87 (2013) 43, through pyproj) are the outside judge: 1 ppm in 3 km."""
    lons, lats = around(lon, lat)
    grid = Grid.local(lons, lats)
    east, north = grid.forward(lons, lats)
    forward, _, geodesic = WGS84.inv(lons[:-1], lats[:-1], lons[1:], lats[1:])
    np.testing.assert_allclose(np.hypot(np.diff(east), np.diff(north)), geodesic, rtol=1e-6, atol=1e-6)
    bearing = np.degrees(np.arctan2(np.diff(east), np.diff(north)))
    turn = (bearing - forward + 180) % 360 - 180
    if abs(lat) < 79.9:
        assert np.abs(turn).max() < 0.4  # the convergence of meridians within 3 km
    assert grid.scale_error_ppm(lons, lats) < 1.0


@few
@given(longitudes, latitudes)
def test_there_and_back_is_where_it_was(lon: float, lat: float) -> None:
    lons, lats = around(lon, lat)
    for grid in (Grid.local(lons, lats), Grid(proj4=Grid.local(lons, lats).proj4)):
        back_lon, back_lat = grid.inverse(*grid.forward(lons, lats))
        _, _, off = WGS84.inv(lons, lats, back_lon, back_lat)
        assert np.abs(off).max() < 1e-4


@few
@given(longitudes, st.floats(-85, 85), st.integers(0, 100))
def test_the_middle_does_not_depend_on_where_longitudes_are_cut(lon: float, lat: float, seed: int) -> None:
    lons, lats = around(lon, lat, seed)
    middle = mean_position(lons, lats)
    whole = mean_position(lons + 360.0 * np.random.default_rng(seed).integers(-1, 2, 40), lats)
    assert whole[1] == pytest.approx(middle[1], abs=1e-9)
    assert (whole[0] - middle[0] + 180) % 360 - 180 == pytest.approx(0.0, abs=1e-9)
    _, _, off = WGS84.inv(lon, lat, *middle)
    assert off < 2000.0


def test_the_middle_of_points_around_a_pole_is_the_pole() -> None:
    lon, lat = mean_position(np.array([0.0, 90, 180, -90]), np.full(4, 89.9))
    assert lat == pytest.approx(90.0, abs=1e-9)
    assert -180 <= lon <= 180


def test_the_middle_of_two_points_beside_the_antimeridian_lies_between_them() -> None:
    lon, lat = mean_position(np.array([179.9, -179.7]), np.array([10.0, 10.0]))
    assert lon == pytest.approx(-179.9)
    assert lat == pytest.approx(10.0, abs=1e-3)


@pytest.mark.parametrize(
    ("lat", "name"), [(0.0, "tmerc"), (79.9, "tmerc"), (-79.9, "tmerc"), (80.1, "aeqd"), (-89.0, "aeqd")]
)
def test_near_the_poles_the_grid_is_azimuthal(lat: float, name: str) -> None:
    assert f"+proj={name} " in Grid.local(np.array([20.0]), np.array([lat])).proj4
    assert POLAR_LATITUDE_DEG == 80.0


@pytest.mark.parametrize(
    ("lon", "lat", "zone", "south"),
    [
        (-180.0, 5.0, 1, ""),
        (-174.1, -5.0, 1, " +south"),
        (-173.9, 5.0, 2, ""),
        (0.0, 5.0, 31, ""),
        (179.9, 5.0, 60, ""),
    ],
)
def test_the_utm_zone_is_six_degrees_wide_from_the_antimeridian(
    lon: float, lat: float, zone: int, south: str
) -> None:
    """Snyder (1987), ch. 8: zone 1 from 180 to 174 degrees west, numbered eastward."""
    proj4 = Grid.utm(np.array([lon]), np.array([lat])).proj4
    assert proj4 == f"+proj=utm +zone={zone}{south} +datum=WGS84 +units=m"


def test_north_of_the_equator_utm_counts_from_it_and_south_of_it_from_ten_million_metres() -> None:
    lon, lat = np.array([3.0, 3.0]), np.array([1e-6, -1e-6])
    north = [Grid.utm(lon[k : k + 1], lat[k : k + 1]).forward(lon, lat)[1] for k in (0, 1)]
    assert north[0] == pytest.approx([0.11, -0.11], abs=0.01)
    assert north[1] == pytest.approx([1e7 + 0.11, 1e7 - 0.11], abs=0.01)
    east, _ = Grid.utm(lon, lat).forward(lon, lat)
    assert east == pytest.approx([5e5, 5e5])


def test_longitudes_run_on_across_the_antimeridian() -> None:
    lon, lat = np.array([179.99, 179.999, -179.999, -179.98]), np.full(4, -16.0)
    grid = Grid.local(lon, lat)
    back, _ = grid.inverse(*grid.forward(lon, lat))
    np.testing.assert_allclose(back % 360.0, lon % 360.0, atol=1e-9)
    assert np.abs(np.diff(back)).max() < 0.1
    nothing, _ = grid.inverse(np.empty(0), np.empty(0))
    assert nothing.shape == (0,)


@pytest.mark.parametrize("away_m", [5_000.0, 50_000.0])
def test_the_scale_error_grows_as_the_textbook_says(away_m: float) -> None:
    """Transverse Mercator, k = 1 + d^2 / (2 R^2) at d from the central meridian (Snyder 1987, 8-4)."""
    lon, lat, _ = WGS84.fwd(10.0, 0.0, 90.0, away_m)
    grid = Grid(proj4="+proj=tmerc +lat_0=0 +lon_0=10 +k=1 +datum=WGS84 +units=m")
    expected = away_m**2 / (2 * 6_378_137.0**2) * 1e6
    found = grid.scale_error_ppm(np.array([10.0, lon]), np.array([0.0, lat]))
    assert found == pytest.approx(expected, rel=0.02)
