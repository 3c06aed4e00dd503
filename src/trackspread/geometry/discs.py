"""Discs around places that must not be told: drawn at random, off centre, and tested on the ellipsoid."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from trackspread.model import Bools, Floats, Ints

SEMI_MAJOR_M = 6_378_137.0  # m, semi-major axis of WGS 84 (NIMA TR 8350.2)
ECCENTRICITY_SQUARED = 0.006_694_379_990_14
"""WGS 84 (NGA.STND.0036, 2014, tables 3.1 and 3.2)."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Draw:
    """Where a disc is drawn from, and its source of random numbers.

    The radius grows by what other places lie away, in whole steps of ``grain_m`` (0: by just that), so that a
    ride more does not change it.
    """

    lon_deg: float
    lat_deg: float
    source: random.Random
    grain_m: float = 0.0


Draws = Callable[[float, float], Draw]
"""Gives the draw for a place (longitude, latitude)."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Disc:
    """What is cut around one place.

    ``centre_m``, shape (3,), is geocentric and not the place itself; ``along_m`` is the least length to
    cut along a line that ends here; ``members`` are the numbers of the places covered.
    """

    centre_m: Floats
    radius_m: float
    along_m: float
    members: Ints

    def holds(self, positions_m: Floats) -> Bools:
        """Return which geocentric positions, shape (P, 3), lie within the disc, shape (P,)."""
        return np.asarray(np.linalg.norm(positions_m - self.centre_m, axis=1) <= self.radius_m)


def geocentric(lon_deg: Floats, lat_deg: Floats) -> Floats:
    """Return geocentric coordinates on the WGS 84 ellipsoid in metres, shape (P, 3).

    EPSG Guidance Note 7-2, method 9602. Straight distances between neighbours are geodesic ones to
    within a millionth of a metre at 1 km, at the poles and across the antimeridian as well.

    Parameters
    ----------
    lon_deg : ndarray, shape (P,)
        Longitude, degrees.
    lat_deg : ndarray, shape (P,)
        Latitude, degrees.

    Returns
    -------
    ndarray
    """
    lon, lat = np.radians(np.asarray(lon_deg, dtype=float)), np.radians(np.asarray(lat_deg, dtype=float))
    normal = SEMI_MAJOR_M / np.sqrt(1.0 - ECCENTRICITY_SQUARED * np.sin(lat) ** 2)
    x, y = normal * np.cos(lat) * np.cos(lon), normal * np.cos(lat) * np.sin(lon)
    return np.stack([x, y, normal * (1.0 - ECCENTRICITY_SQUARED) * np.sin(lat)], axis=-1)


def discs_around(lon_deg: Floats, lat_deg: Floats, least_m: float, most_m: float, draws: Draws) -> list[Disc]:
    """Draw one disc for each cluster of places that lie within ``least_m`` of its first.

    A disc that centred on the place would betray it: three lines that leave it in different directions
    give the circle, and the circle its centre. So the centre is moved by a random step, and the radius
    drawn so that the edge is at least ``least_m`` from every place covered, in every direction. The edge
    is at most ``most_m`` from the first place, and further by as much as the others lie away from it.

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (N,)
        The places, those that count most first.
    least_m, most_m : float
        Bounds of the distance from the first place to the edge, metres.
    draws : callable
        Gives for the first place of a cluster where its disc is drawn from, and the random numbers.

    Returns
    -------
    list of Disc
    """
    places = geocentric(lon_deg, lat_deg)
    free = np.arange(len(places))
    made = []
    while len(free):
        first = free[0]
        near = np.linalg.norm(places[free] - places[first], axis=1) <= least_m
        draw = draws(float(lon_deg[first]), float(lat_deg[first]))
        source = draw.source
        anchor = geocentric(np.array([draw.lon_deg]), np.array([draw.lat_deg]))[0]
        apart_m = float(np.linalg.norm(places[free[near]] - anchor, axis=1).max())
        if draw.grain_m:
            apart_m = draw.grain_m * math.ceil(apart_m / draw.grain_m)
        step = (most_m - least_m) / 2 * math.sqrt(source.random())
        bearing = source.uniform(0.0, 2.0 * math.pi)
        made.append(
            Disc(
                centre_m=_moved(anchor, draw.lon_deg, draw.lat_deg, step, bearing),
                radius_m=source.uniform(least_m + step, most_m - step) + apart_m,
                along_m=source.uniform(least_m, most_m),
                members=free[near],
            )
        )
        free = free[~near]
    return made


def _moved(place_m: Floats, lon_deg: float, lat_deg: float, step_m: float, bearing: float) -> Floats:
    """Return the place moved in its tangent plane (1 cm off the ellipsoid at 500 m)."""
    lon, lat = math.radians(lon_deg), math.radians(lat_deg)
    east = np.array([-math.sin(lon), math.cos(lon), 0.0])
    north = np.array([-math.sin(lat) * math.cos(lon), -math.sin(lat) * math.sin(lon), math.cos(lat)])
    return np.asarray(place_m + step_m * (math.sin(bearing) * east + math.cos(bearing) * north))
