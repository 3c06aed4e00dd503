"""layers.gpkg: lines and points of a result as layers of an OGC GeoPackage."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from threading import Lock
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import pyogrio.errors
import pyogrio.raw
import shapely

from trackspread import model as m
from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.results.document import Document, wrapped_lon_deg
from trackspread.results.lines import cut_lines
from trackspread.results.places import fix_positions, lines_of
from trackspread.results.rounding import utc
from trackspread.results.schema.fields import Column, text
from trackspread.results.schema.route import STATION
from trackspread.results.tables import COLUMNS, Cell, Figure, Table, centreline_row, route_tables

STATIONS = tuple(column for column in STATION if column.unit != "deg")
PIECES = ("segments", "events", "variants", "stretches")
"""Layers of pieces of the route."""

FIXES = (text("kind", "kind"), Column("trace", "trace"))
ROUTE = text("route", "route")
TEXTS = ("text", "verdict", "origin")

ONE_AT_A_TIME = Lock()
"""GDAL has one configuration for all threads."""

FULL_BYTES = 2**20  # bytes: with less free a disk counts as full
MOST_LAYERS = 20  # layers of a file that are looked at
_NOT_WRITTEN = (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, pyogrio.errors.FeatureError)

Part = tuple[str, tuple[Cell, ...], Any]
"""Name of the route, cells, geometry."""

Array = np.ndarray[Any, Any]
Row = tuple[tuple[Cell, ...], tuple[m.Floats, m.Floats] | None]
"""Cells, and the line (longitude, latitude) of a row that has one."""


def write_layers(analysis: m.Analysis, document: Document, file: Path) -> None:
    """Write centreline, stations, pieces, stretches, fixes and traces into ``file`` (WGS 84).

    Lines that cross the antimeridian are cut there (RFC 7946, section 3.1.9). The time of change that the
    format keeps is set to the time of the analysis, so that the same analysis gives the same bytes (by the
    same versions of GDAL and SQLite).

    Parameters
    ----------
    analysis : Analysis
        Gives the lines and the figures at every station.
    document : dict
        Its document (`result_document`), which gives the cells of all other layers.
    file : Path
        A new file.

    Raises
    ------
    OSError
        The file cannot be written, for want of room above all.
    """
    tables = [{table.name: table for table in route_tables(route)} for route in document["routes"]]
    routes = list(zip(analysis.routes, tables, strict=True))
    with ONE_AT_A_TIME, _dated(analysis.created_s):
        _write(file, "centreline", COLUMNS["centreline"], [_centreline(route) for route in analysis.routes])
        _write(file, "stations", STATIONS, [part for route in analysis.routes for part in _stations(route)])
        for name in PIECES:
            _write(file, name, COLUMNS[name], [p for r, t in routes for p in _lines(r, t[name])])
        fixes = (*FIXES, *COLUMNS["fixes"])
        _write(file, "fixes", fixes, [p for r, t in routes for p in _fixes(r, t["fixes"])])
        _write(file, "traces", COLUMNS["traces"], [p for r, t in routes for p in _lines(r, t["traces"])])


def lines_layer(table: Any, lines: list[list[tuple[m.Floats, m.Floats]]]) -> gpd.GeoDataFrame:
    """Return a table with the lines of its rows (continuous longitudes) as a layer of WGS 84.

    Parameters
    ----------
    table : pandas.DataFrame
        R rows.
    lines : list of list of tuple of ndarray
        For each row its lines: longitude and latitude, degrees, shape (P,) each.

    Returns
    -------
    geopandas.GeoDataFrame
        In EPSG:4326; lines are cut at the antimeridian.
    """
    return gpd.GeoDataFrame(table, geometry=[cut_lines(part) for part in lines], crs="EPSG:4326")


def read_lines(file: Path) -> list[tuple[m.Floats, m.Floats]]:
    """Return the lines of a GeoJSON file or a GeoPackage, and the outlines of its areas, in WGS 84.

    Parameters
    ----------
    file : Path
        Up to `MOST_LAYERS` layers of it are read; a file without a coordinate system counts as WGS 84.

    Returns
    -------
    list of tuple of ndarray, shape (P,)
        Longitude and latitude of each line, degrees.

    Raises
    ------
    UnreadableFile
        It is neither, or GDAL cannot read it.
    """
    with file.open("rb") as stream:
        head = stream.read(64).lstrip(b"\xef\xbb\xbf \t\r\n")
    rule = "lines or areas as GeoJSON or GeoPackage are needed"
    name, found = printable(str(file), 300), list[tuple[m.Floats, m.Floats]]()
    try:
        if not head.startswith((b"{", b"SQLite format 3")):
            raise ValueError("this is neither")
        for layer in pyogrio.list_layers(file)[:, 0].tolist()[:MOST_LAYERS]:
            read = gpd.read_file(file, layer=layer, columns=[])
            shapes = (read.to_crs(4326) if read.crs else read).geometry if "geometry" in read else []
            for shape in shapely.get_parts([s for s in shapes if s is not None]):
                line = shape.exterior if shape.geom_type == "Polygon" else shape
                if line.geom_type in ("LineString", "LinearRing") and not line.is_empty:
                    at = shapely.get_coordinates(line)
                    found.append((at[:, 0], at[:, 1]))
    except (ValueError, OSError, RuntimeError, pyogrio.errors.DataSourceError) as error:
        told = printable(str(error), 120)
        raise UnreadableFile(Problem(file=name, rule=f"{rule}: {told}", remedy="export it anew")) from error
    return found


@contextmanager
def _dated(time_s: float) -> Iterator[None]:
    """Let GDAL take ``time_s`` for the present, and wait for no disk, for as long as it lasts.

    A new file has no room in its folder until it is whole, so a loss of power leaves nothing by half.
    """
    present = (utc(time_s) or "1970-01-01T00:00:00Z").replace("Z", ".000Z")
    wanted = {"OGR_CURRENT_DATE": present, "OGR_SQLITE_SYNCHRONOUS": "OFF"}
    before = {name: pyogrio.get_gdal_config_option(name) for name in wanted}
    pyogrio.set_gdal_config_options(wanted)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)


def _write(file: Path, layer: str, columns: tuple[Column, ...], parts: list[Part]) -> None:
    kind = "Point" if layer in ("stations", "fixes") else "MultiLineString"
    rows = [(route, *cells) for route, cells, _ in parts]
    _written(file, layer, (ROUTE, *columns), rows, [shape for *_, shape in parts], kind)


def _written(
    file: Path, layer: str, columns: tuple[Column, ...], rows: list[tuple[Cell, ...]],
    shapes: list[Any] | None, kind: str | None = None, append: bool = False,
) -> None:  # fmt: skip
    """Write the rows of a layer; without ``shapes`` it is a plain table."""
    fields, values = list[str](), list[Array]()
    for i, column in enumerate(columns):
        as_text = column.kind in TEXTS
        for end, header in enumerate(column.headers()):
            cells = [_value(column, row[i], end) for row in rows]
            fields.append(header)
            values.append(np.array(cells, object if as_text else bool if column.kind == "truth" else float))
    lines = None if shapes is None else shapely.to_wkb(np.array(shapes, object))
    try:
        pyogrio.raw.write(
            file, lines, values, fields, layer=layer, driver="GPKG", geometry_type=kind, append=append,
            crs=None if shapes is None else "EPSG:4326",
        )  # fmt: skip
    except _NOT_WRITTEN as error:
        full = shutil.disk_usage(file.parent).free < FULL_BYTES
        why = (errno.ENOSPC, os.strerror(errno.ENOSPC)) if full else (errno.EIO, printable(str(error), 160))
        raise OSError(*why, str(file)) from error
    except UnicodeEncodeError as error:
        raise OSError(errno.EILSEQ, os.strerror(errno.EILSEQ), str(file)) from error


def _value(column: Column, cell: Cell, end: int) -> Any:
    if isinstance(cell, Figure):
        cell = (cell.value, cell.low, cell.high)[end]
    if column.kind in TEXTS:
        return "" if cell is None else _clean(str(cell))
    if column.kind == "truth":
        return bool(cell)
    return float("nan") if cell is None else float(cell)


def _clean(value: str) -> str:
    return value.replace("\0", "�").encode("utf-8", "replace").decode("utf-8")


def write_archive(
    folders: Iterable[Mapping[str, list[Row]]],
    columns: Mapping[str, tuple[Column, ...]],
    lines: Collection[str],
    file: Path,
    batch: int = 50,
) -> None:
    """Write the rows of many folders into one GeoPackage, those of a batch in memory at a time.

    Parameters
    ----------
    folders : iterable of mapping
        For each folder the rows by layer: cells and, for a layer among ``lines``, a line (longitude and
        latitude, shape (N,) each).
    columns : mapping
        The columns of every layer; one without rows is written without.
    lines : collection of str
        Names of the layers that have lines; others are plain tables.
    file : Path
        A new file.
    batch : int
        Folders in memory at once.

    Raises
    ------
    OSError
        The file cannot be written, for want of room above all.
    """
    todo, begun = iter(folders), set[str]()
    with ONE_AT_A_TIME, _dated(float("nan")):
        while part := list(islice(todo, batch)):
            for name, heads in columns.items():
                rows = [row for folder in part for row in folder.get(name, [])]
                if rows:
                    _append(file, name, heads, rows, name in lines, name in begun)
                    begun.add(name)
        for name, heads in columns.items():
            if name not in begun:
                _append(file, name, heads, [], name in lines, False)


def _append(
    file: Path, name: str, columns: tuple[Column, ...], rows: list[Row], shaped: bool, append: bool
) -> None:
    shapes = [cut_lines([line]) if line else None for _, line in rows] if shaped else None
    kind = "MultiLineString" if shaped else None
    _written(file, name, columns, [cells for cells, _ in rows], shapes, kind, append)


# --- geometry of one route ---------------------------------------------------------------------------


def _points(lon_deg: m.Floats, lat_deg: m.Floats) -> Any:
    return shapely.points(wrapped_lon_deg(lon_deg), lat_deg)


def _centreline(route: m.RouteResult) -> Part:
    return route.name, centreline_row(route), cut_lines(*lines_of(route, "centreline"))


def _stations(route: m.RouteResult) -> Iterator[Part]:
    present = np.isfinite(route.offset_m).sum(axis=0)
    places = _points(route.lon_deg, route.lat_deg)
    for i, place in enumerate(places):
        spread = Figure(
            value=route.station_spread_m[i], low=route.station_low_m[i], high=route.station_high_m[i]
        )
        yield route.name, (float(route.station_m[i]), int(present[i]), spread), place


def _lines(route: m.RouteResult, table: Table) -> Iterator[Part]:
    for lines, cells in zip(lines_of(route, table.name), table.rows, strict=True):
        yield route.name, cells, cut_lines(lines)


def _fixes(route: m.RouteResult, table: Table) -> Iterator[Part]:
    for trace, cells in zip(route.traces, table.rows, strict=True):
        for kind, (lon, lat) in fix_positions(trace).items():
            place = _points(np.array([lon]), np.array([lat]))[0]
            yield route.name, (kind, trace.number, *cells), place
