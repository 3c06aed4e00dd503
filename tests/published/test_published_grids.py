"""The metric grid against worked examples of mapping agencies and certified geodesics.

Each value stands beside its source. Where an example was read in a reprint, or is from memory and was
recomputed, the docstring says so.
"""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from geographiclib.test.test_geodesic import GeodesicTest
from pyproj import Geod

from trackspread.geometry.projection import Grid

EARTH = Geodesic.WGS84


def dms(degrees: float, minutes: float, seconds: float) -> float:
    return float(np.copysign(abs(degrees) + minutes / 60 + seconds / 3600, degrees))


def test_ordnance_survey_worked_example() -> None:
    """Ordnance Survey, A guide to coordinate systems in Great Britain, Annex C (read in a reprint): 1 mm."""
    grid = Grid(
        proj4="+proj=tmerc +lat_0=49 +lon_0=-2 +k_0=0.9996012717 +x_0=400000 +y_0=-100000"
        " +a=6377563.396 +b=6356256.909 +units=m"
    )
    lon, lat = dms(1, 43, 4.5177), dms(52, 39, 27.2531)
    east, north = grid.forward(lon, lat)
    assert east == pytest.approx(651_409.903, abs=0.001)
    assert north == pytest.approx(313_177.270, abs=0.001)
    np.testing.assert_allclose(grid.inverse(651_409.903, 313_177.270), (lon, lat), atol=2e-8)


def test_snyder_transverse_mercator_example() -> None:
    """Snyder, Map Projections: A Working Manual, USGS PP 1395 (1987), p. 269 (read in a reprint)."""
    grid = Grid(proj4="+proj=tmerc +lat_0=0 +lon_0=-75 +k_0=0.9996 +a=6378206.4 +es=0.00676866 +units=m")
    east, north = grid.forward(-73.5, 40.5)
    assert east == pytest.approx(127_106.5, abs=0.05)
    assert north == pytest.approx(4_484_124.4, abs=0.05)
    assert grid.scale_error_ppm(np.array([-73.5]), np.array([40.5])) == pytest.approx(
        (1 - 0.9997989) * 1e6, abs=0.06
    )


def test_epsg_guidance_note_transverse_mercator_example() -> None:
    """IOGP Guidance Note 373-7-2, method 9807, with the note's own rounded parameters."""
    grid = Grid(
        proj4="+proj=tmerc +lat_0=49 +lon_0=-2 +k_0=0.9996013 +x_0=400000 +y_0=-100000"
        " +a=6377563.396 +rf=299.32496 +units=m"
    )
    np.testing.assert_allclose(grid.forward(0.5, 50.5), (577_274.99, 69_740.50), atol=0.0051)


@pytest.mark.parametrize(
    ("lon", "lat", "east", "north"),
    [
        (-2, 60, 221_288.770, 6_661_953.041),
        (0, 60, 332_705.179, 6_655_205.484),
        (-2, 40, 73_106.698, 4_439_746.917),
        (-2, 0, -57_087.120, 0.0),
        (-2, -60, 221_288.770, -6_661_953.041),
    ],
)
def test_utm_of_the_gigs_suite(lon: float, lat: float, east: float, north: float) -> None:
    """IOGP GIGS test 5101 part 2 (2011), UTM zone 31N on WGS 84: 0.03 m."""
    grid = Grid(proj4="+proj=utm +zone=31 +datum=WGS84 +units=m")
    np.testing.assert_allclose(grid.forward(lon, lat), (east, north), atol=0.03)


def test_utm_zone_is_chosen_as_proj_tests_have_it() -> None:
    """PROJ test/gie/builtins.gie, UTM zone 32: longitude 12, latitude 56 (GRS 80, 0.1 mm from WGS 84 here).

    At 12 degrees sharp zone 33 begins, so the point that chooses the zone lies before it.
    """
    grid = Grid.utm(np.array([11.9]), np.array([56.0]))
    np.testing.assert_allclose(grid.forward(12.0, 56.0), (687_071.43910944, 6_210_141.32674801), atol=1e-3)


@pytest.mark.parametrize(
    ("text", "point", "expected", "tolerance"),
    [
        # IOGP GN 7-2 (April 2018), p. 85, Modified Azimuthal Equidistant, in PROJ's builtins.gie: 1 cm
        (
            "+proj=aeqd +ellps=clrk66 +lat_0=9.546708325068591 +lon_0=138.1687444500492"
            " +x_0=40000 +y_0=60000",
            (138.19303001104092, 9.596525859439623),
            (42_665.90, 65_509.82),
            0.01,
        ),
        # IOGP GN 7-2 (September 2016), p. 85, Guam projection, in PROJ's builtins.gie: 1 cm
        (
            "+proj=aeqd +guam +ellps=clrk66 +lat_0=13.47246633333333 +lon_0=144.74875069444445"
            " +x_0=50000 +y_0=50000",
            (144.63533129166666, 13.33903846111111),
            (37_712.48, 35_242.00),
            0.01,
        ),
        # Snyder (1987), Table 30, pp. 196-197, sphere of radius 1 (five decimals printed)
        ("+proj=aeqd +R=1 +lat_0=0 +lon_0=0", (10, 80), (0.04281, 1.39829), 5.1e-6),
        ("+proj=aeqd +R=1 +lat_0=0 +lon_0=0", (40, 30), (0.62896, 0.56493), 5.1e-6),
    ],
)
def test_azimuthal_equidistant_examples(
    text: str, point: tuple[float, float], expected: tuple[float, float], tolerance: float
) -> None:
    np.testing.assert_allclose(Grid(proj4=text).forward(*point), expected, atol=tolerance)


@pytest.mark.parametrize(("lat", "rho"), [(85, 558_485.4), (80, 1_116_885.2), (70, 2_233_100.9)])
def test_polar_azimuthal_equidistant_table(lat: float, rho: float) -> None:
    """Snyder (1987), Table 31, p. 198, International ellipsoid."""
    grid = Grid(proj4="+proj=aeqd +ellps=intl +lat_0=90 +lon_0=0")
    assert np.hypot(*grid.forward(37.0, lat)) == pytest.approx(rho, abs=0.1)


def azimuthal(lon: float, lat: float, ellipsoid: str = "WGS84") -> Grid:
    return Grid(proj4=f"+proj=aeqd +lat_0={lat!r} +lon_0={lon!r} +ellps={ellipsoid} +units=m")


def test_flinders_peak_to_buninyong() -> None:
    """ICSM, GDA Technical Manual, Vincenty's example on GRS 80: 54972.271 m at 306 deg 52' 05.37"."""
    here = dms(144, 25, 29.52440), dms(-37, 57, 3.72030)
    there = dms(143, 55, 35.38390), dms(-37, 39, 10.15610)
    east, north = azimuthal(*here, "GRS80").forward(*there)
    assert np.hypot(east, north) == pytest.approx(54_972.271, abs=0.001)
    azimuth = np.degrees(np.arctan2(east, north)) % 360
    assert azimuth == pytest.approx(dms(306, 52, 5.37), abs=0.01 / 3600)


def test_geodsolve0_long_line() -> None:
    """GeographicLib, GeodSolve0: 40.6 N 73.8 W to 49 deg 1' N 2 deg 33' E is 5853226 m at 53.47022 deg."""
    east, north = azimuthal(-73.8, 40.6).forward(2.55, 49.01666667)
    assert np.hypot(east, north) == pytest.approx(5_853_226, abs=0.5)
    assert np.degrees(np.arctan2(east, north)) == pytest.approx(53.47022, abs=0.5e-5)


def test_geodsolve4_short_line() -> None:
    """GeographicLib, GeodSolve4: 0.072 m between points 8e-7 degrees apart; here on the tool's local grid."""
    lon, lat = np.array([0.0, 0.0000008]), np.array([36.493349428792, 36.49334942879201])
    east, north = Grid.local(lon + 0.01, lat + 0.01).forward(lon, lat)
    assert np.hypot(np.diff(east), np.diff(north))[0] == pytest.approx(0.072, abs=0.5e-3)


@pytest.mark.parametrize("case", [case for case in GeodesicTest.testcases if case[6] < 15e6])
def test_installed_geodesic_test_lines(case: list[float]) -> None:
    """Karney's 20 random lines, as installed with geographiclib: distance and azimuth from the centre."""
    lat1, lon1, azi1, lat2, lon2, _, s12 = case[:7]
    east, north = azimuthal(lon1, lat1).forward(lon2, lat2)
    assert np.hypot(east, north) == pytest.approx(s12, abs=1e-5)
    assert np.degrees(np.arctan2(east, north)) == pytest.approx(azi1, abs=1e-9)


@pytest.mark.parametrize(
    ("lon", "lat"),
    [(-84.0, 75.2), (179.98, -51.0), (0.0, 0.0), (12.0, 85.0), (-150.0, -89.9), (24.9, 60.2), (37.0, 79.99)],
)
def test_local_grid_is_true_to_a_millionth_within_5_km(lon: float, lat: float) -> None:
    """Geodesics by GeographicLib (Karney, J. Geodesy 87 (2013) 43) between points all around."""
    rng = np.random.default_rng(7)
    azimuth, distance = rng.uniform(0, 360, 60), rng.uniform(10, 5000, 60)
    ends = [EARTH.Direct(lat, lon, a, s) for a, s in zip(azimuth, distance, strict=True)]
    lons, lats = np.array([e["lon2"] for e in ends]), np.array([e["lat2"] for e in ends])
    grid = Grid.local(np.append(lons, lon), np.append(lats, lat))
    east, north = grid.forward(lons, lats)
    plane = np.hypot(np.diff(east), np.diff(north))
    geodesic = [
        EARTH.Inverse(lats[k], lons[k], lats[k + 1], lons[k + 1])["s12"] for k in range(len(lons) - 1)
    ]
    np.testing.assert_allclose(plane, geodesic, rtol=1e-6)
    assert grid.scale_error_ppm(lons, lats) < 1.0
    back_lon, back_lat = grid.inverse(east, north)
    assert np.abs((back_lon - lons + 180) % 360 - 180).max() * np.cos(np.radians(lat)) < 1e-9
    np.testing.assert_allclose(back_lat, lats, atol=1e-9)


def test_utm_scale_error_is_that_of_the_zone() -> None:
    """At the central meridian of a UTM zone the scale is 0.9996: 400 ppm short (Snyder 1987, p. 57)."""
    grid = Grid.utm(np.array([9.0]), np.array([47.0]))
    assert grid.scale_error_ppm(np.array([9.0]), np.array([47.0])) == pytest.approx(400, abs=0.1)
    east, north = grid.forward([9.0, 9.0], [47.0, 47.01])
    _, _, true = Geod(ellps="WGS84").inv(9.0, 47.0, 9.0, 47.01)
    assert np.hypot(np.diff(east), np.diff(north))[0] / true == pytest.approx(0.9996, abs=1e-7)
