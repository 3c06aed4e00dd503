"""Lines in degrees: thinned for maps, and cut at the antimeridian."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from trackspread.geometry.sphere import METRES_PER_DEGREE
from trackspread.model import Floats


def thinned(lon_deg: Floats, lat_deg: Floats, tolerance_m: float) -> tuple[Floats, Floats]:
    """Return a line without points that change it by less than ``tolerance_m`` (Douglas & Peucker 1973)."""
    if len(lon_deg) < 3:
        return lon_deg, lat_deg
    shrink = max(1e-6, float(np.cos(np.radians(np.mean(lat_deg)))))
    x, y = without_needless(lon_deg * shrink * METRES_PER_DEGREE, lat_deg * METRES_PER_DEGREE, tolerance_m)
    return x / METRES_PER_DEGREE / shrink, y / METRES_PER_DEGREE


def without_needless(x: Floats, y: Floats, tolerance: float) -> tuple[Floats, Floats]:
    """Return a line in a plane without points that change it by less than ``tolerance``, shape (P,) each."""
    if len(x) < 3:
        return x, y
    line = shapely.simplify(shapely.linestrings(x, y), tolerance, preserve_topology=False)
    kept = shapely.get_coordinates(line)
    return kept[:, 0], kept[:, 1]


def cut_lines(lines: list[tuple[Floats, Floats]]) -> Any:
    """Return lines with continuous longitudes as one MultiLineString within [-180, 180]."""
    whole = shapely.MultiLineString([np.column_stack(line) for line in lines if len(line[0]) > 1])
    if whole.is_empty:
        return whole
    west, _, east, _ = whole.bounds
    turns = range(int(np.floor((west + 180) / 360)), int(np.floor((east + 180) / 360)) + 1)
    if turns == range(0, 1):
        return whole
    cut = []
    for turn in turns:
        side = shapely.intersection(whole, shapely.box(360 * turn - 180, -90, 360 * turn + 180, 90))
        parts = [piece for piece in shapely.get_parts(side) if piece.geom_type == "LineString"]
        cut += [shapely.get_coordinates(piece) - (360 * turn, 0) for piece in parts]
    return shapely.MultiLineString(cut)
