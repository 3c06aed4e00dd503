"""A local plane on WGS 84, by closed formulae that share nothing with the project's own grid.

The plane is azimuthal equidistant about its origin: a point at distance ``r`` and azimuth ``a`` is set
on the sphere that osculates the ellipsoid at the origin in that azimuth (Euler's radius), in geocentric
coordinates, and dropped onto the ellipsoid. Distances are right to 0.3 ppm within 5 km of the origin.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SEMI_MAJOR_M = 6_378_137.0  # WGS 84, NIMA TR8350.2 (from memory)
FLATTENING = 1 / 298.257223563
_E2 = FLATTENING * (2 - FLATTENING)


@dataclass(frozen=True, kw_only=True)
class Globe:
    """A plane about (``lon_deg``, ``lat_deg``), turned by ``turn_deg`` clockwise."""

    lon_deg: float = 0.0
    lat_deg: float = 0.0
    turn_deg: float = 0.0

    def to_lonlat(self, east_m: Floats, north_m: Floats) -> tuple[Floats, Floats]:
        """Return longitude in [-180, 180) and latitude of plane coordinates."""
        east_m, north_m = _turned(np.asarray(east_m, float), np.asarray(north_m, float), self.turn_deg)
        radius = self._euler_radius(np.arctan2(east_m, north_m))
        distance = np.hypot(east_m, north_m)
        shrink = np.sinc(distance / radius / np.pi)
        local = np.stack([east_m * shrink, north_m * shrink, radius * (np.cos(distance / radius) - 1)])
        geocentric = self._axes().T @ local.reshape(3, -1) + self._origin()[:, None]
        lon, lat = _geodetic(geocentric)
        return lon.reshape(distance.shape), lat.reshape(distance.shape)

    def to_plane(self, lon_deg: Floats, lat_deg: Floats) -> tuple[Floats, Floats]:
        """Return plane coordinates of longitude and latitude (the inverse of `to_lonlat`)."""
        lon, lat = np.radians(np.asarray(lon_deg, float)), np.radians(np.asarray(lat_deg, float))
        local = self._axes() @ (_geocentric(lon.ravel(), lat.ravel()) - self._origin()[:, None])
        east, north, up = local.reshape((3, *lon.shape))
        radius = self._euler_radius(np.arctan2(east, north))
        stretch = 1 / np.sinc(np.arctan2(np.hypot(east, north), radius + up) / np.pi)
        return _turned(east * stretch, north * stretch, -self.turn_deg)

    def _euler_radius(self, azimuth: Floats) -> Floats:
        w2 = 1 - _E2 * np.sin(np.radians(self.lat_deg)) ** 2
        meridian = SEMI_MAJOR_M * (1 - _E2) / w2**1.5
        prime_vertical = SEMI_MAJOR_M / np.sqrt(w2)
        return 1 / (np.cos(azimuth) ** 2 / meridian + np.sin(azimuth) ** 2 / prime_vertical)

    def _origin(self) -> Floats:
        return _geocentric(np.radians([self.lon_deg]), np.radians([self.lat_deg]))[:, 0]

    def _axes(self) -> Floats:
        """Return the unit vectors east, north, up at the origin, one a row."""
        sin_lon, cos_lon = np.sin(np.radians(self.lon_deg)), np.cos(np.radians(self.lon_deg))
        sin_lat, cos_lat = np.sin(np.radians(self.lat_deg)), np.cos(np.radians(self.lat_deg))
        return np.array(
            [
                [-sin_lon, cos_lon, 0.0],
                [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat],
                [cos_lat * cos_lon, cos_lat * sin_lon, sin_lat],
            ]
        )


def _turned(east: Floats, north: Floats, turn_deg: float) -> tuple[Floats, Floats]:
    sin, cos = np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg))
    return east * cos + north * sin, north * cos - east * sin


def _geocentric(lon: Floats, lat: Floats) -> Floats:
    normal = SEMI_MAJOR_M / np.sqrt(1 - _E2 * np.sin(lat) ** 2)
    return np.stack(
        [
            normal * np.cos(lat) * np.cos(lon),
            normal * np.cos(lat) * np.sin(lon),
            normal * (1 - _E2) * np.sin(lat),
        ]
    )


def _geodetic(geocentric: Floats) -> tuple[Floats, Floats]:
    x, y, z = geocentric
    from_axis = np.hypot(x, y)
    lat = np.arctan2(z, from_axis * (1 - _E2))
    for _ in range(4):  # fixed-point iteration; the height is below a few metres, so this is ample
        sin = np.sin(lat)
        lat = np.arctan2(z + _E2 * SEMI_MAJOR_M * sin / np.sqrt(1 - _E2 * sin**2), from_axis)
    lon = (np.degrees(np.arctan2(y, x)) + 180) % 360 - 180
    return lon, np.degrees(lat)
