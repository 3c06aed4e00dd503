"""Kinds of places in a result: positions, the centreline, boxes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from trackspread import model as m
from trackspread.results.rounding import rounded
from trackspread.results.schema.kinds import Check, Described, Kind, Many, Word, check_object

PLACES = 7
"""Decimals of a degree: 1 cm on the equator."""

LONGITUDE = {"type": "number", "minimum": -180, "maximum": 180}
LATITUDE = {"type": "number", "minimum": -90, "maximum": 90}
"""Degrees, in JSON Schema."""


def wrapped_lon_deg(lon_deg: m.Floats) -> m.Floats:
    """Return longitudes in [-180, 180), degrees.

    Parameters
    ----------
    lon_deg : ndarray
        Degrees, of any number of turns.

    Returns
    -------
    ndarray
        As given, within one turn.
    """
    return (np.asarray(lon_deg, dtype=float) + 180.0) % 360.0 - 180.0


def _is_position(value: object, check: Check) -> bool:
    """Return whether a value is a longitude and a latitude."""
    if not (isinstance(value, list) and len(value) >= 2 and all(map(check.is_number, value))):
        return False
    return bool(check.full or (abs(value[0]) <= 180 and abs(value[1]) <= 90))


@dataclass(frozen=True, slots=True)
class Position(Kind):
    """Longitude and latitude."""

    rule: ClassVar[str] = "a position [longitude, latitude] in degrees"

    def fits(self, value: Any, check: Check) -> bool:
        return _is_position(value, check)

    def described(self) -> Described:
        return {"$ref": "#/$defs/position"}


@dataclass(frozen=True, slots=True)
class Line(Kind):
    """The centreline of a route; its full figures stand in the arrays."""

    def written(self, value: Any, full: bool) -> Any:
        both = np.column_stack([wrapped_lon_deg(value.lon_deg), value.lat_deg]).round(PLACES)
        return {"type": "LineString", "coordinates": [] if full else both.tolist()}

    def check(self, value: Any, place: str, check: Check) -> None:
        needed = {"type": Word(("LineString",)), "coordinates": Many(Position())}
        check_object(value, place, check, needed, {})

    def described(self) -> Described:
        positions = {"type": "array", "minItems": 2, "items": Position().described()}
        return {
            "type": "object",
            "required": ["type", "coordinates"],
            "properties": {"type": {"const": "LineString"}, "coordinates": positions},
        }


@dataclass(frozen=True, slots=True)
class Bounds(Kind):
    """West, south, east, north."""

    rule: ClassVar[str] = "bounds [west, south, east, north] in degrees"

    def written(self, value: Any, full: bool) -> Any:
        if full:
            return [float(end) for end in value]
        west, south, east, north = value
        lon = wrapped_lon_deg(np.array([west, east]))
        return [rounded(end, PLACES) for end in (lon[0], south, lon[1], north)]

    def fits(self, value: Any, check: Check) -> bool:
        if not (isinstance(value, list) and len(value) == 4):
            return False
        return _is_position(value[:2], check) and _is_position(value[2:], check)

    def read(self, value: Any, arrays: Any = None) -> Any:
        return tuple(map(float, value))

    def described(self) -> Described:
        return {"$ref": "#/$defs/bounds"}
