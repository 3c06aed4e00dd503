"""What helps a reader to find the way on a map without a network: the user's own lines and named places.

Both are drawn quietly under what was measured. Names are hostile text: they travel as data and are set as
text.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import cos, isfinite, radians
from pathlib import Path

import numpy as np

from trackspread import model as m
from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.geometry.sphere import METRES_PER_DEGREE
from trackspread.numeric.runs import runs
from trackspread.results.lines import thinned
from trackspread.results.places import Line

LARGEST_GROUND_BYTES = 200 * 2**20  # bytes, bounds memory
LARGEST_TABLE = 2**20  # bytes, bounds memory
MOST_PLACES = 200  # places on one map
AROUND_M = 500.0
"""Lines are drawn within this distance of the box that holds the routes."""
BESIDE_M = 80.0
"""A place within this distance of a route has a tick in its charts; published, only such places are shown."""
THINNINGS_M = (1.0, 3.0, 10.0, 30.0)  # m, tried in turn
MOST_GROUND_POINTS = 20_000  # points of a map, bounds its file


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """A named place, by longitude and latitude, or by its station on a route (its number, from 0)."""

    name: str
    lon_deg: float = float("nan")
    lat_deg: float = float("nan")
    station_m: float = float("nan")
    route: int = 0


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Backdrop:
    """Lines (outlines of areas too) and named places."""

    lines: tuple[Line, ...] = ()
    places: tuple[Place, ...] = ()


NO_BACKDROP = Backdrop()


def read_backdrop(ground: Path | None, places: Path | None) -> Backdrop:
    """Read lines from GeoJSON or a GeoPackage, and places from a table ``name,lon,lat`` or ``name,station``.

    Parameters
    ----------
    ground : Path or None
        Lines or areas, at most 200 MB.
    places : Path or None
        In UTF-8, degrees or metres; a column ``route`` counts from 1.

    Returns
    -------
    Backdrop

    Raises
    ------
    UnreadableFile
        A file cannot be read, or is none of these.
    """
    lines = _lines(_sized(ground, LARGEST_GROUND_BYTES)) if ground is not None else []
    named = tuple(_places(_sized(places, LARGEST_TABLE))) if places is not None else ()
    return Backdrop(lines=tuple(lines), places=named)


def lines_near(backdrop: Backdrop, routes: Sequence[m.RouteResult]) -> list[Line]:
    """Return the lines within `AROUND_M` of the box that holds some routes, no finer than can be seen.

    Parameters
    ----------
    backdrop : Backdrop
    routes : sequence of RouteResult

    Returns
    -------
    list of tuple of ndarray
        Longitude, on the routes' turn around the globe, and latitude of each piece, degrees; thinned to
        `MOST_GROUND_POINTS` as far as `THINNINGS_M` goes.
    """
    west = min(float(r.lon_deg.min()) for r in routes)
    east = max(float(r.lon_deg.max()) for r in routes)
    south = min(float(r.lat_deg.min()) for r in routes)
    north = max(float(r.lat_deg.max()) for r in routes)
    pad = AROUND_M / METRES_PER_DEGREE
    wide = pad / max(0.01, cos(radians((south + north) / 2)))
    near = []
    for logged, lat in backdrop.lines:
        lon = logged - 360.0 * np.round((logged - (west + east) / 2) / 360.0)
        across = (lon >= west - wide) & (lon <= east + wide)
        inside = across & (lat >= south - pad) & (lat <= north + pad)
        keep = inside | np.roll(inside, 1) | np.roll(inside, -1)
        near += [(lon[a : b + 1], lat[a : b + 1]) for a, b in runs(keep) if b > a]
    for tolerance in THINNINGS_M:
        drawn = [thinned(*line, tolerance) for line in near]
        if sum(len(line[0]) for line in drawn) <= MOST_GROUND_POINTS:
            return drawn
    return drawn if near else []


def places_on(backdrop: Backdrop, number: int, route: m.RouteResult) -> list[tuple[float, str]]:
    """Return the places beside a route, in order of station.

    Parameters
    ----------
    backdrop : Backdrop
    number : int
        Of the route, from 0.
    route : RouteResult

    Returns
    -------
    list of (float, str)
        Station in metres, and name; a place by longitude and latitude lies within `BESIDE_M` of the line.
    """
    found = []
    for place in backdrop.places:
        station = place.station_m if place.route == number else float("nan")
        if not isfinite(station) and isfinite(place.lon_deg):
            apart = _apart_m(route, place)
            nearest = int(apart.argmin())
            station = float(route.station_m[nearest]) if apart[nearest] <= BESIDE_M else float("nan")
        if isfinite(station) and route.station_m[0] <= station <= route.station_m[-1]:
            found.append((station, printable(place.name, 24)))
    return sorted(found)


def places_shown(backdrop: Backdrop, analysis: m.Analysis) -> list[tuple[str, float, float]]:
    """Return the places to draw on a map; where ends were cut, only those beside a route.

    Parameters
    ----------
    backdrop : Backdrop
    analysis : Analysis

    Returns
    -------
    list of (str, float, float)
        Name, longitude and latitude in degrees.
    """
    found = []
    for place in backdrop.places:
        lon, lat = place.lon_deg, place.lat_deg
        if isfinite(place.station_m) and place.route < len(analysis.routes):
            route = analysis.routes[place.route]
            if not route.station_m[0] <= place.station_m <= route.station_m[-1]:
                continue
            lon = float(np.interp(place.station_m, route.station_m, route.lon_deg))
            lat = float(np.interp(place.station_m, route.station_m, route.lat_deg))
        if not isfinite(lon):
            continue
        near = min(
            float(_apart_m(route, Place(name="", lon_deg=lon, lat_deg=lat)).min())
            for route in analysis.routes
        )
        if near <= (BESIDE_M if analysis.published else 10 * AROUND_M):
            found.append((printable(place.name, 24), lon, lat))
    return found


def _apart_m(route: m.RouteResult, place: Place) -> m.Floats:
    east = (route.lon_deg - place.lon_deg + 180.0) % 360.0 - 180.0
    east = east * np.cos(np.radians(route.lat_deg))
    return np.asarray(METRES_PER_DEGREE * np.hypot(east, route.lat_deg - place.lat_deg))


# --- reading -----------------------------------------------------------------------------------------


def _lines(file: Path) -> list[Line]:
    from trackspread.results.layers import read_lines  # loads much, and few ask for it

    return read_lines(file)


def _sized(file: Path, most: int) -> Path:
    try:
        size = file.stat().st_size
        regular = file.is_file()
    except OSError as error:
        raise _refused(file, f"this file cannot be read: {error.strerror}", "check the name") from error
    if not regular:
        raise _refused(file, "this is not a regular file", "name another one")
    if size > most:
        raise _refused(file, f"a file of at most {most // 2**20} MB is needed", "cut out what you need")
    return file


def _places(file: Path) -> Iterator[Place]:
    try:
        text = file.read_bytes().decode("utf-8-sig", "replace").replace("\x00", "")
        rows = list(csv.DictReader(io.StringIO(text, newline="")))[:MOST_PLACES]
    except (OSError, csv.Error) as error:
        raise _refused(file, f"this is no table of places: {error}", "write name,lon,lat") from error
    for line, row in enumerate(rows, start=2):
        cells = {(key or "").strip().lower(): value for key, value in row.items() if isinstance(value, str)}
        name = cells.get("name", "").strip()
        route = _number(cells.get("route") or "1", 1e4)
        place = Place(
            name=name,
            lon_deg=_number(cells.get("lon", ""), 540.0),
            lat_deg=_number(cells.get("lat", ""), 90.0),
            station_m=_number(cells.get("station", ""), 1e7),
            route=max(1, int(route)) - 1 if isfinite(route) else 0,
        )
        whole = isfinite(place.lon_deg) and isfinite(place.lat_deg)
        if not name or not isfinite(route) or not (whole or isfinite(place.station_m)):
            raise _refused(
                file, "a place needs a name, and lon and lat in degrees or a station in metres of route 1, 2",
                "correct it", place=f"line {line}", value=printable(",".join(cells.values()), 80),
            )  # fmt: skip
        yield place


def _number(text: str, most: float) -> float:
    try:
        value = float(text)
    except ValueError:
        return float("nan")
    return value if abs(value) <= most else float("nan")


def _refused(file: Path, rule: str, remedy: str, place: str = "", value: str = "") -> UnreadableFile:
    name = printable(str(file), 300)
    return UnreadableFile(Problem(file=name, place=place, value=value, rule=rule, remedy=remedy))
