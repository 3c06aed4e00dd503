"""layers.gpkg: opened again by geopandas and by SQLite (a GeoPackage is an SQLite file)."""

import itertools
import shutil
import sqlite3
import time

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely

from records import fuller, make_analysis
from trackspread.results.document import result_document
from trackspread.results.layers import write_layers

LAYERS = {"centreline", "stations", "segments", "events", "variants", "stretches", "fixes", "traces"}


def written(analysis, file):
    write_layers(analysis, result_document(analysis), file)
    return {layer: gpd.read_file(file, layer=layer) for layer in LAYERS}


@pytest.mark.parametrize("hostile", [False, True])
def test_layers_open_in_geopandas(tmp_path, hostile):
    analysis = fuller(make_analysis(hostile=hostile))
    layers = written(analysis, tmp_path / "layers.gpkg")
    assert {name for name, _ in pyogrio.list_layers(tmp_path / "layers.gpkg")} == LAYERS
    route = analysis.routes[0]
    for frame in layers.values():
        assert frame.crs.to_epsg() == 4326
        assert set(frame["route"]) == {r.name.encode("utf-8", "replace").decode() for r in analysis.routes}
    assert len(layers["segments"]) == sum(len(r.segments) for r in analysis.routes)
    stations = layers["stations"][layers["stations"]["route"] == route.name]
    np.testing.assert_allclose(stations.geometry.x, route.lon_deg, atol=1e-9)
    np.testing.assert_allclose(stations["spread_m"], route.station_spread_m)
    assert set(layers["fixes"]["kind"]) == {"first", "settled"}
    metres = layers["centreline"].to_crs(route.proj4).length
    assert metres[0] == pytest.approx(route.length_m, rel=0.01)


def test_segments_lie_end_to_end(tmp_path):
    segments = written(make_analysis(routes=1), tmp_path / "a.gpkg")["segments"]
    ends = [shapely.get_coordinates(shape)[[0, -1]] for shape in segments.geometry]
    for before, after in itertools.pairwise(ends):
        np.testing.assert_allclose(before[1], after[0], atol=1e-9)


def test_a_gap_is_not_bridged(tmp_path):
    layers = written(make_analysis(routes=1), tmp_path / "a.gpkg")
    assert len(layers["traces"].geometry.iloc[-1].geoms) == 2


def test_layers_without_rows_are_there(tmp_path):
    analysis = make_analysis(routes=1)
    object.__setattr__(analysis.routes[0], "stretches", ())
    layers = written(analysis, tmp_path / "a.gpkg")
    assert len(layers["stretches"]) == 0
    assert "peak_m" in layers["stretches"].columns


def test_lines_are_cut_at_the_antimeridian(tmp_path):
    layers = written(fuller(make_analysis(place=(179.99, -50.0))), tmp_path / "a.gpkg")
    for frame in layers.values():
        x = shapely.get_coordinates(frame.geometry)[:, 0]
        assert x.min() >= -180
        assert x.max() <= 180
    for shape in layers["centreline"].geometry.iloc[0].geoms:
        assert np.ptp(shapely.get_coordinates(shape)[:, 0]) < 1


def test_same_analysis_same_bytes(tmp_path):
    written(make_analysis(), tmp_path / "a.gpkg")
    time.sleep(1.1)
    written(make_analysis(), tmp_path / "b.gpkg")
    assert (tmp_path / "a.gpkg").read_bytes() == (tmp_path / "b.gpkg").read_bytes()
    assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") is None


def test_file_is_a_sound_geopackage(tmp_path):
    written(make_analysis(), tmp_path / "a.gpkg")
    shutil.copy(tmp_path / "a.gpkg", tmp_path / "copy.gpkg")
    base = sqlite3.connect(tmp_path / "copy.gpkg")
    try:
        # OGC 12-128r19 (GeoPackage 1.4), requirement 2: application_id is "GPKG" in ASCII.
        assert base.execute("pragma application_id").fetchone()[0] == int.from_bytes(b"GPKG")
        assert base.execute("pragma integrity_check").fetchone()[0] == "ok"
        changed = {row[0] for row in base.execute("select last_change from gpkg_contents")}
        assert changed == {"2026-01-01T00:00:00.000Z"}
    finally:
        base.close()
