"""The index of an archive: a page, a CSV table, and one GeoPackage of all results."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from trackspread.archive.page import Outcome, archive_page
from trackspread.errors import printable
from trackspread.geometry.polyline import cumulative_length
from trackspread.model import Floats
from trackspread.results.document import Document
from trackspread.results.layers import Row, write_archive
from trackspread.results.schema.fields import Column, figure, text
from trackspread.results.tables import COLUMNS as COLUMNS_OF
from trackspread.results.tables import Figure, route_tables
from trackspread.system.placing import held, plain_place, put, refused
from trackspread.system.spreadsheet import guarded

COLUMNS = (
    "folder", "route", "traces", "receivers", "length_m", "spread_m", "spread_low_m", "spread_high_m",
    "stretches", "steady_share", "first_fix_s", "first_fix_low_s", "first_fix_high_s", "first_fixes",
)  # fmt: skip
PAGE, TABLE, LAYERS = "index.html", "routes.csv", "routes.gpkg"
_WHERE = (text("folder", "folder"), text("route", "route"))
TABLES = ("segments", "stretches", "traces", "fixes", "receivers", "pairs", "film")
LAYER_COLUMNS = {
    "routes": (
        *_WHERE, Column("traces", "traces"), Column("receivers", "receivers"),
        Column("length", "length", "m"), figure("spread", "spread", "m", interval=True),
        Column("stretches", "stretches"), Column("steady_share", "steady"),
        figure("first_fix", "first fix, median", "s", interval=True), Column("first_fixes", "of rides"),
    ),
    **{name: (*_WHERE, *COLUMNS_OF[name]) for name in TABLES},
}  # fmt: skip
LINES = ("routes", "segments", "stretches")


def write_index(outcomes: Sequence[Outcome], folder: Path, *, batch: int = 50) -> list[Path]:
    """Write index.html, routes.csv and routes.gpkg; return their paths, the page first.

    Results of ``batch`` routes are in memory at a time. The three take their places one after the other
    (all or none, but for a loss of power between): to exchange the folder in one step, every file of every
    route would have to be linked anew.

    Parameters
    ----------
    outcomes : sequence of Outcome
        Of all route folders, in the order of the page.
    folder : Path
        Holds the results, a folder a route.
    batch : int
        Routes whose layers are written at a time.

    Returns
    -------
    list of Path

    Raises
    ------
    FolderRefused
        They cannot be written there.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with held(folder, "index") as made:
            (made / PAGE).write_bytes(archive_page(outcomes).encode("utf-8", "replace"))
            (made / TABLE).write_bytes(_csv(outcomes).encode("utf-8", "replace"))
            with plain_place(LAYERS) as file:
                write_archive(_folders(outcomes, folder), LAYER_COLUMNS, LINES, file, batch)
                shutil.copyfile(file, made / LAYERS)
            put(made, folder)
    except OSError as error:
        raise refused(folder, error) from error
    return [folder / PAGE, folder / TABLE, folder / LAYERS]


def _folders(outcomes: Sequence[Outcome], folder: Path) -> Iterator[dict[str, list[Row]]]:
    """Yield the rows of every layer, one folder in memory at a time."""
    for outcome in outcomes:
        if outcome.state == "failed":
            continue
        document = json.loads((folder / outcome.name / "result.json").read_text("utf-8"))
        rows: dict[str, list[Row]] = {name: [] for name in LAYER_COLUMNS}
        for row, route in zip(outcome.rows, document["routes"], strict=True):
            station, lon, lat = _centreline(route)
            spread = Figure(value=row["spread_m"], low=row["spread_low_m"], high=row["spread_high_m"])
            first = [row[name] for name in COLUMNS[:5]]
            fix = Figure(value=row["first_fix_s"], low=row["first_fix_low_s"], high=row["first_fix_high_s"])
            last = (row["stretches"], row["steady_share"], fix, row["first_fixes"])
            rows["routes"].append(((*first, spread, *last), (lon, lat)))
            for table in route_tables(route):
                for cells in table.rows if table.name in TABLES else ():
                    line = _between(station, lon, lat, cells[0], cells[1]) if table.name in LINES else None
                    rows[table.name].append(((outcome.name, route["name"], *cells), line))
        yield rows


def _centreline(route: Document) -> tuple[Floats, Floats, Floats]:
    """Return stations, longitudes (running on across the antimeridian) and latitudes, shape (S,) each."""
    lon, lat = np.array(route["centreline"]["coordinates"], dtype=float).T
    lon = np.unwrap(lon, period=360.0)
    way = cumulative_length(lon * np.cos(np.radians(lat.mean())), lat)
    ends = [segment["to_m"] for segment in route["segments"]]  # less rounded than the length
    return way * ((ends[-1] if ends else route["length_m"]) / way[-1]), lon, lat


def _between(station_m: Floats, lon: Floats, lat: Floats, from_m: Any, to_m: Any) -> tuple[Floats, Floats]:
    at = np.concatenate([[from_m], station_m[(station_m > from_m) & (station_m < to_m)], [to_m]])
    return np.interp(at, station_m, lon), np.interp(at, station_m, lat)


def _csv(outcomes: Sequence[Outcome]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*COLUMNS, "state", "reason"])
    for outcome in outcomes:
        for row in outcome.rows or ({"folder": outcome.name},):
            cells = [row.get(column, "") for column in COLUMNS]
            writer.writerow([*map(_cell, cells), outcome.state, guarded(printable(outcome.reason, 600))])
    return out.getvalue()


def _cell(value: object) -> object:
    return guarded(printable(value, 600)) if isinstance(value, str) else "" if value is None else value
