"""Places on a sphere in three dimensions: good to 0.6 %, without a seam at the antimeridian or the poles."""

from __future__ import annotations

import numpy as np

from trackspread.model import Floats

EARTH_RADIUS_M = 6_371_008.8  # m, mean radius R₁ of GRS 80 (Moritz 2000)
METRES_PER_DEGREE = 111_195.0
"""One degree of a great circle on that radius: within 0.6 % of a degree of the ellipsoid anywhere."""


def directions(lon_deg: Floats, lat_deg: Floats) -> Floats:
    """Return unit vectors from the centre of the earth, shape (P, 3).

    Parameters
    ----------
    lon_deg : ndarray, shape (P,)
        Longitude, degrees.
    lat_deg : ndarray, shape (P,)
        Latitude, degrees.

    Returns
    -------
    ndarray, shape (P, 3)
    """
    lon, lat = np.radians(lon_deg), np.radians(lat_deg)
    return np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=1)


def places_m(lon_deg: Floats, lat_deg: Floats) -> Floats:
    """Return places in metres, shape (P, 3), on a sphere of the mean radius of the earth.

    6,371,008.8 m: (2 a + b) / 3 of WGS 84 (Moritz 2000, J. Geod. 74:128, from memory).

    Parameters
    ----------
    lon_deg : ndarray, shape (P,)
        Longitude, degrees.
    lat_deg : ndarray, shape (P,)
        Latitude, degrees.

    Returns
    -------
    ndarray, shape (P, 3)
    """
    return np.asarray(EARTH_RADIUS_M * directions(lon_deg, lat_deg))
