"""tables/*.csv: units in the column names, one file for all routes, texts that no spreadsheet runs."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence

import numpy as np

from trackspread.model import Analysis, Floats, Ints, RouteResult
from trackspread.results.document import Document, wrapped_lon_deg
from trackspread.results.schema.fields import Column, figure
from trackspread.results.schema.route import STATION
from trackspread.results.tables import Cell, Figure, Table, comparison_tables, inputs_table, route_tables
from trackspread.system.spreadsheet import guarded

_Values = tuple[Floats | Ints, int]
"""Values at all stations, and their decimal places."""


def csv_files(analysis: Analysis, document: Document) -> dict[str, str]:
    """Return the text of every file of tables/, by name; each row names its route.

    Parameters
    ----------
    analysis : Analysis
        Gives the figures at every station.
    document : dict
        Its document (`result_document`), which gives all other tables.

    Returns
    -------
    dict of str
        Text of a file (RFC 4180) by its name, such as ``segments.csv``.
    """
    whole = (inputs_table(document), *comparison_tables(document))
    files = {f"{table.name}.csv": _csv_text([("", table)], with_route=False) for table in whole}
    by_route = [(route["name"], route_tables(route)) for route in document["routes"]]
    for parts in zip(*([(name, table) for table in tables] for name, tables in by_route), strict=True):
        files[f"{parts[0][1].name}.csv"] = _csv_text(parts)
    files["stations.csv"] = _stations_text(analysis.routes)
    claiming = [route for route in analysis.routes if route.claim_m.shape == route.offset_m.shape]
    if claiming:
        files["claims.csv"] = _claims_text(claiming)
    return files


def _csv_text(parts: Sequence[tuple[str, Table]], with_route: bool = True) -> str:
    """Return tables of one kind as one CSV text (RFC 4180); the widest heads it, absent cells are empty."""
    columns = max((table.columns for _, table in parts), key=len)
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    header = [*(["route"] if with_route else []), *(h for c in columns for h in c.headers())]
    writer.writerow(header)
    for route, table in parts:
        for row in table.rows:
            cells = [guarded(route)] if with_route else []
            cells += [
                text for column, cell in zip(columns, row, strict=False) for text in _cells(column, cell)
            ]
            writer.writerow(cells + [""] * (len(header) - len(cells)))
    return buffer.getvalue()


def _cells(column: Column, cell: Cell) -> Iterable[str]:
    if isinstance(cell, Figure):
        ends = (cell.value, cell.low, cell.high) if column.interval else (cell.value,)
        return [_number(end) for end in ends]
    if isinstance(cell, str):
        return [guarded(cell)]
    return [_number(cell)]


def _number(value: float | None) -> str:
    if value is None or not math.isfinite(value):
        return ""
    return str(value).lower() if isinstance(value, bool) else f"{value:.12g}"


def _stations_text(routes: Sequence[RouteResult]) -> str:
    """Return centreline, spread and the offset of every trace at every station, made column by column."""
    parts = []
    for route in routes:
        counts = np.isfinite(route.offset_m).sum(axis=0)
        columns = [(route.station_m, 1), (wrapped_lon_deg(route.lon_deg), 7), (route.lat_deg, 7), (counts, 0)]
        columns += [(route.station_spread_m, 2), (route.station_low_m, 2), (route.station_high_m, 2)]
        parts.append((route, [*columns, *((offset, 2) for offset in route.offset_m)]))
    return _along_text(STATION, "offset", parts)


def _claims_text(routes: Sequence[RouteResult]) -> str:
    """Return what every trace claims of its own accuracy at every station."""
    parts = [(r, [(r.station_m, 1), *((claim, 2) for claim in r.claim_m)]) for r in routes]
    return _along_text(STATION[:1], "claimed", parts)


def _along_text(
    columns: Sequence[Column], what: str, parts: Sequence[tuple[RouteResult, Sequence[_Values]]]
) -> str:
    """Return a row a station: the columns that all routes have, and one a trace; values come with places."""
    traces = max((route.traces for route, _ in parts), key=len, default=())
    own = [figure(f"{what}_{t.number}", f"{what}, trace {t.number}", "m") for t in traces]
    header = ["route", *(name for column in (*columns, *own) for name in column.headers())]
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow(header)
    for route, values in parts:
        name, blank = guarded(route.name), [""] * (len(header) - 1 - len(values))
        rows = zip(*(_numbers(*column) for column in values), strict=True)
        writer.writerows([name, *row, *blank] for row in rows)
    return buffer.getvalue()


def _numbers(values: Floats | Ints, places: int) -> list[str]:
    return [f"{round(value, places) + 0.0:.12g}" if math.isfinite(value) else "" for value in values.tolist()]
