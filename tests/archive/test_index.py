"""The index of an archive, read again: its page, and one GeoPackage of all results."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import geopandas
import pyogrio
import pyproj
import pytest

from trackspread.archive.index import COLUMNS, LAYER_COLUMNS, write_index
from trackspread.archive.run import Outcome, analyse_archive

ROUTES = 4  # of the fixture `root`


@pytest.fixture(scope="module")
def done(root: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Outcome], Path]:
    folder = tmp_path_factory.mktemp("results") / "out"
    return analyse_archive(root, folder), folder


@pytest.mark.parametrize("batch", [1, 50])
def test_one_file_holds_all_results(done: tuple[list[Outcome], Path], batch: int) -> None:
    """The GeoPackage has, route for route, what the results of the routes say, read by another library."""
    outcomes, folder = done
    file = write_index(outcomes, folder, batch=batch)[2]
    names = pyogrio.list_layers(file)[:, 0].tolist()
    assert sorted(names) == sorted(LAYER_COLUMNS)
    found = {name: pyogrio.read_dataframe(file, layer=name) for name in names}
    for outcome in outcomes[1:]:
        (route,) = json.loads((folder / outcome.name / "result.json").read_text())["routes"]
        own = {name: frame[frame["folder"] == outcome.name] for name, frame in found.items()}
        assert own["routes"]["length_m"].tolist() == [route["length_m"]]
        for name in ("segments", "stretches", "traces", "receivers", "pairs", "film"):
            assert len(own[name]) == len(route[name]), name
        assert own["segments"]["spread_m"].tolist() == [s["spread"]["value_m"] for s in route["segments"]]
        assert own["segments"]["verdict"].tolist() == [s["verdict"] for s in route["segments"]]
        assert own["pairs"]["told_apart"].tolist() == [p["told_apart"] for p in route["pairs"]]
        metres = pyproj.Geod(ellps="WGS84").geometry_length
        for row in own["segments"].itertuples():
            assert metres(row.geometry) == pytest.approx(row.to_m - row.from_m, abs=0.3), row
    assert sum(len(frame) for frame in found.values()) > 0


def test_the_page_has_a_row_a_route_and_a_row_a_watch(done: tuple[list[Outcome], Path]) -> None:
    outcomes, folder = done
    index = write_index(outcomes, folder)
    layer = geopandas.read_file(index[2], layer="routes")
    assert len(layer) == ROUTES
    assert (layer["spread_m"] > 0).all()
    page = index[0].read_text("utf-8")
    routes, watches = page.partition("<h2>Routes</h2>")[::-2]
    assert routes.count("<tr><td>") == ROUTES
    named = {w["receiver"] for o in outcomes[1:] for w in o.rows[0]["watches"]}
    assert watches.count("<tr><td>") == sum(len(o.rows[0]["watches"]) for o in outcomes[1:]) >= ROUTES
    assert all(f"<td>{name}</td>" in watches for name in named), "the watch is the unit"


def test_the_table_has_a_row_a_route_and_one_for_what_failed(done: tuple[list[Outcome], Path]) -> None:
    """Read by the standard library's reader: all columns, figures as in the result of each route."""
    outcomes, folder = done
    rows = list(csv.DictReader(write_index(outcomes, folder)[1].read_text("utf-8").splitlines()))
    assert list(rows[0]) == [*COLUMNS, "state", "reason"]
    assert [(row["folder"], row["state"]) for row in rows] == [(one.name, one.state) for one in outcomes]
    assert "no file held a usable trace" in rows[0]["reason"]
    for row in rows[1:]:
        (route,) = json.loads((folder / row["folder"] / "result.json").read_text())["routes"]
        assert float(row["spread_m"]) == route["spread"]["value_m"]
        assert int(row["traces"]) == len(route["traces"])
