"""Lines in degrees: thinned for maps, and cut at the antimeridian."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from trackspread.geometry.sphere import METRES_PER_DEGREE
from trackspread.model import Floats


def thinned(lon_deg: Floats, lat_deg: Floats, tolerance_m: float) -> tuple[Floats, Floats]:
    """Return a line without points that change it by less than ``tolerance_m`` (Douglas & Peucker 1973).

    Parameters
    ----------
    lon_deg, lat_deg : ndarray, shape (P,)
        Degrees, longitudes running on past 180.
    tolerance_m : float
        Metres, on a sphere at the mean latitude.

    Returns
    -------
    tuple of ndarray, shape (Q,)
        Longitude and latitude of the Q ≤ P points that stay, first and last among them.
    """
    if len(lon_deg) < 3:
        return lon_deg, lat_deg
    shrink = max(1e-6, float(np.cos(np.radians(np.mean(lat_deg)))))
    x, y = without_needless(lon_deg * shrink * METRES_PER_DEGREE, lat_deg * METRES_PER_DEGREE, tolerance_m)
    return x / METRES_PER_DEGREE / shrink, y / METRES_PER_DEGREE


def without_needless(x: Floats, y: Floats, tolerance: float) -> tuple[Floats, Floats]:
    """Return a line in a plane without the points that hardly change it (Douglas & Peucker 1973).

    Parameters
    ----------
    x, y : ndarray, shape (P,)
        Finite, in one unit.
    tolerance : float
        No point that goes was farther than this from the line that stays, in the unit of ``x``.

    Returns
    -------
    tuple of ndarray, shape (Q,)
        The points that stay, first and last among them.

    Examples
    --------
    >>> x, y = without_needless(np.array([0.0, 1.0, 2.0, 3.0]), np.array([0.0, 0.1, 0.0, 5.0]), 0.5)
    >>> x.tolist(), y.tolist()
    ([0.0, 2.0, 3.0], [0.0, 0.0, 5.0])
    """
    if len(x) < 3:
        return x, y
    line = shapely.simplify(shapely.linestrings(x, y), tolerance, preserve_topology=False)
    kept = shapely.get_coordinates(line)
    return kept[:, 0], kept[:, 1]


def cut_lines(lines: list[tuple[Floats, Floats]]) -> Any:
    """Return lines as one MultiLineString within [-180, 180], cut at the antimeridian (RFC 7946, 3.1.9).

    Parameters
    ----------
    lines : list of tuple of ndarray, shape (P,)
        Longitude, running on past 180 where a line crosses the antimeridian, and latitude, degrees. Lines
        of a single point are left out.

    Returns
    -------
    shapely.MultiLineString

    Examples
    --------
    >>> print(cut_lines([(np.array([179.0, 181.0]), np.array([-48.0, -48.0]))]))
    MULTILINESTRING ((179 -48, 180 -48), (-180 -48, -179 -48))
    """
    whole = shapely.MultiLineString([np.column_stack(line) for line in lines if len(line[0]) > 1])
    if whole.is_empty:
        return whole
    west, _, east, _ = whole.bounds
    first, last = (int(np.floor((lon + 180) / 360)) for lon in (west, east))
    turns = range(first, last + 1)
    if turns == range(0, 1):
        return whole
    cut = []
    for turn in turns:
        side = shapely.intersection(whole, shapely.box(360 * turn - 180, -90, 360 * turn + 180, 90))
        parts = [piece for piece in shapely.get_parts(side) if piece.geom_type == "LineString"]
        cut += [shapely.get_coordinates(piece) - (360 * turn, 0) for piece in parts]
    return shapely.MultiLineString(cut)
