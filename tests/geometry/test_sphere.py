"""Places on a sphere, against geographiclib's geodesics and the axes."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from trackspread.geometry.sphere import directions, places_m


def test_directions_of_the_axes() -> None:
    found = directions(np.array([0.0, 90.0, 180.0, 12.0]), np.array([0.0, 0.0, 0.0, 90.0]))
    np.testing.assert_allclose(found, [[1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, 0, 1]], atol=1e-15)


@pytest.mark.parametrize("lat_deg", [-89.9, -45.0, 0.0, 60.0])
@pytest.mark.parametrize("lon_deg", [0.0, 179.9995])
def test_distances_of_places_are_those_of_geodesics(lat_deg: float, lon_deg: float) -> None:
    """Within 0.6 % of geographiclib's on WGS 84, across the antimeridian too."""
    found = places_m(np.array([lon_deg, lon_deg + 0.001]), np.array([lat_deg, lat_deg + 0.001]))
    expected = Geodesic.WGS84.Inverse(lat_deg, lon_deg, lat_deg + 0.001, lon_deg + 0.001)["s12"]
    assert np.linalg.norm(found[1] - found[0]) == pytest.approx(expected, rel=6e-3)
