"""Discs, against geodesics of GeographicLib (Karney 2013, J. Geodesy 87:43)."""

from __future__ import annotations

import random

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from trackspread.geometry.discs import Draw, Draws, discs_around, geocentric

PLACES = [(69.4, -48.9), (179.9999, 51.0), (-179.9999, -16.0), (15.0, 89.9995), (0.0, 0.0)]


def drawn(seed: int) -> Draws:
    source = random.Random(seed)
    return lambda lon, lat: Draw(lon_deg=lon, lat_deg=lat, source=source)


def _around(lon: float, lat: float, distance_m: float, count: int = 72) -> tuple[list[float], list[float]]:
    ends = [Geodesic.WGS84.Direct(lat, lon, bearing, distance_m) for bearing in np.linspace(0, 360, count)]
    return [end["lon2"] for end in ends], [end["lat2"] for end in ends]


def test_geocentric_coordinates_of_the_worked_example_of_the_epsg() -> None:
    """EPSG Guidance Note 7-2, method 9602: 53°48'33.82" N, 2°07'46.38" E, height 73 m (taken off here)."""
    lon, lat = 2 + 7 / 60 + 46.38 / 3600, 53 + 48 / 60 + 33.82 / 3600
    up = np.array(
        [
            np.cos(np.radians(lat)) * np.cos(np.radians(lon)),
            np.cos(np.radians(lat)) * np.sin(np.radians(lon)),
            np.sin(np.radians(lat)),
        ]
    )
    found = geocentric(np.array([lon]), np.array([lat]))[0] + 73.0 * up
    assert found == pytest.approx([3_771_793.97, 140_253.34, 5_124_304.35], abs=0.02)


@pytest.mark.parametrize(("lon", "lat"), PLACES)
def test_the_edge_keeps_its_distance_in_every_direction(lon: float, lat: float) -> None:
    for seed in range(40):
        (disc,) = discs_around(np.array([lon]), np.array([lat]), 200.0, 500.0, drawn(seed))
        assert disc.holds(geocentric(*map(np.array, _around(lon, lat, 199.9)))).all()
        assert not disc.holds(geocentric(*map(np.array, _around(lon, lat, 500.1)))).any()
        assert 200.0 <= disc.along_m <= 500.0


@pytest.mark.parametrize(("lon", "lat"), PLACES)
def test_every_place_of_a_cluster_is_covered_all_around(lon: float, lat: float) -> None:
    x, y = _around(lon, lat, 150.0, 7)
    for seed in range(10):
        discs = discs_around(np.array([lon, *x]), np.array([lat, *y]), 200.0, 500.0, drawn(seed))
        assert len(discs) == 1
        for place in zip(x, y, strict=True):
            assert discs[0].holds(geocentric(*map(np.array, _around(*place, 199.9)))).all()


def test_the_centre_is_not_the_place_and_lengths_spread_over_their_range() -> None:
    """A circle through where lines leave a disc gives its centre: that must not give the place away."""
    lon, lat = PLACES[0]
    place = geocentric(np.array([lon]), np.array([lat]))[0]
    discs = [discs_around(np.array([lon]), np.array([lat]), 200.0, 500.0, drawn(s))[0] for s in range(400)]
    away = np.array([np.linalg.norm(disc.centre_m - place) for disc in discs])
    assert np.median(away) > 75.0
    assert away.max() <= 150.0
    east, north = np.array([disc.centre_m - place for disc in discs])[:, :2].mean(axis=0)
    assert abs(east) < 20.0
    assert abs(north) < 20.0
    along = np.array([disc.along_m for disc in discs])
    assert along.min() < 215.0
    assert along.max() > 485.0


def test_places_apart_get_discs_of_their_own() -> None:
    lon, lat = np.array([69.4, 69.41, 69.4]), np.array([-48.9, -48.9, -48.9])
    discs = discs_around(lon, lat, 200.0, 500.0, drawn(1))
    assert [disc.members.tolist() for disc in discs] == [[0, 2], [1]]
