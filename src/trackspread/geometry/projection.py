"""Local metric grids on WGS 84 (the only module that knows pyproj)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pyproj

from trackspread.geometry.sphere import directions
from trackspread.model import Floats

POLAR_LATITUDE_DEG = 80.0  # degrees, beyond which meridians converge too fast for a transverse one


@dataclass(frozen=True, kw_only=True, slots=True)
class Grid:
    """A metric grid; ``proj4`` says all there is to know about it."""

    proj4: str

    @classmethod
    def local(cls, lon_deg: Floats, lat_deg: Floats) -> Grid:
        """Return a grid centred on the points, true to scale at its centre.

        Transverse Mercator (Snyder, USGS PP 1395, 1987, ch. 8) up to 80 degrees of latitude,
        azimuthal equidistant (ch. 25) beyond. The centre is that of the unit vectors, so that the
        antimeridian and the poles are places like any other.
        """
        lon0, lat0 = mean_position(lon_deg, lat_deg)
        name = "tmerc" if abs(lat0) < POLAR_LATITUDE_DEG else "aeqd"
        scale = " +k=1" if name == "tmerc" else ""
        return cls(proj4=f"+proj={name} +lat_0={lat0:.6f} +lon_0={lon0:.6f}{scale} +datum=WGS84 +units=m")

    @classmethod
    def utm(cls, lon_deg: Floats, lat_deg: Floats) -> Grid:
        """Return the UTM grid of the zone in which the centre of the points lies (scale 0.9996)."""
        lon0, lat0 = mean_position(lon_deg, lat_deg)
        zone = int((lon0 + 180.0) // 6.0) % 60 + 1
        south = " +south" if lat0 < 0 else ""
        return cls(proj4=f"+proj=utm +zone={zone}{south} +datum=WGS84 +units=m")

    def forward(self, lon_deg: Floats, lat_deg: Floats) -> tuple[Floats, Floats]:
        """Return east and north in metres."""
        east, north = self._proj()(np.asarray(lon_deg, float), np.asarray(lat_deg, float))
        return np.asarray(east), np.asarray(north)

    def inverse(self, east_m: Floats, north_m: Floats) -> tuple[Floats, Floats]:
        """Return longitude and latitude; longitudes run on across the antimeridian from the first."""
        lon, lat = self._proj()(np.asarray(east_m, float), np.asarray(north_m, float), inverse=True)
        lon, lat = np.asarray(lon), np.asarray(lat)
        if lon.size:
            first = lon.flat[0]
            lon = first + (lon - first + 180.0) % 360.0 - 180.0
        return lon, lat

    def scale_error_ppm(self, lon_deg: Floats, lat_deg: Floats) -> float:
        """Return the largest scale error, any direction, over the points, in parts per million.

        Half axes of Tissot's indicatrix (Snyder 1987, ch. 4) as PROJ computes them.
        """
        factors = self._proj().get_factors(lon_deg, lat_deg)
        axes = np.concatenate(
            [np.atleast_1d(factors.tissot_semimajor), np.atleast_1d(factors.tissot_semiminor)]
        )
        return float(np.nanmax(np.abs(axes - 1.0)) * 1e6)

    def _proj(self) -> pyproj.Proj:
        return pyproj.Proj(self.proj4)


def mean_position(lon_deg: Floats, lat_deg: Floats) -> tuple[float, float]:
    """Return longitude and latitude of the mean unit vector of the points, degrees.

    Parameters
    ----------
    lon_deg : ndarray, shape (P,)
        Longitude, degrees.
    lat_deg : ndarray, shape (P,)
        Latitude, degrees.

    Returns
    -------
    lon_deg, lat_deg : float
    """
    x, y, z = directions(lon_deg, lat_deg).mean(axis=0).tolist()
    return math.degrees(math.atan2(y, x)), math.degrees(math.atan2(z, math.hypot(x, y)))
