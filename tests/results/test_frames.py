"""Records as tables and layers; lengths of layers against geodesics of pyproj, an outside library."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import Geod

from records import make_analysis
from trackspread import model as m
from trackspread.results.frames import LAYERS, OF_ROUTES

KINDS = ("inputs", "traces", "segments", "stretches", "receivers", "pairs", "film", "references", "stations")


@pytest.fixture(scope="module")
def analysis() -> m.Analysis:
    return make_analysis(routes=2, traces=4)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_a_table_of_plain_values(analysis: m.Analysis, kind: str) -> None:
    frame = analysis.to_frame(kind)
    assert isinstance(frame, pd.DataFrame)
    assert not any(isinstance(value, tuple | np.ndarray | m.Estimate) for value in frame.to_numpy().ravel())
    for name in [name for name in frame.columns if name.endswith(("_m", "_s", "_deg"))]:
        assert pd.api.types.is_numeric_dtype(frame[name]), name


@pytest.mark.parametrize("kind", OF_ROUTES)
def test_a_table_without_rows_keeps_names_and_types_of_its_columns(analysis: m.Analysis, kind: str) -> None:
    bare = [replace(route, **{OF_ROUTES[kind]: ()}) for route in analysis.routes]
    empty, full = replace(analysis, routes=tuple(bare)).to_frame(kind), analysis.to_frame(kind)
    assert len(empty) == 0
    assert list(empty.columns) == list(full.columns)
    assert {"route"} < set(empty.columns)
    if len(full):
        assert list(empty.dtypes) == list(full.dtypes)


def test_segments_have_their_figures_in_full(analysis: m.Analysis) -> None:
    frame = analysis.to_frame("segments")
    first = analysis.routes[0].segments[0]
    assert frame.loc[0, "spread_m"] == first.spread.value or np.isnan(first.spread.value)
    assert {"route", "from_m", "to_m", "spread_m", "low_m", "high_m", "verdict"} <= set(frame.columns)
    assert len(frame) == sum(len(route.segments) for route in analysis.routes)


def test_traces_have_their_fixes_by_name(analysis: m.Analysis) -> None:
    names = set(analysis.to_frame("traces").columns)
    assert {"first_fix_s", "first_fix_source", "first_fix_at_station_m", "settled_fix_s"} <= names


def test_an_unknown_kind_names_those_there_are(analysis: m.Analysis) -> None:
    with pytest.raises(ValueError, match="the kinds are inputs, traces"):
        analysis.to_frame("nothing")
    with pytest.raises(ValueError, match="the layers are centreline"):
        analysis.to_geodataframe("stations")


@pytest.mark.parametrize("kind", LAYERS)
def test_layers_are_lines_of_wgs_84_one_a_record(analysis: m.Analysis, kind: str) -> None:
    layer = analysis.to_geodataframe(kind)
    assert len(layer) == sum(1 if kind == "centreline" else len(getattr(r, kind)) for r in analysis.routes)
    assert isinstance(layer, gpd.GeoDataFrame)
    assert layer.crs.to_epsg() == 4326
    assert set(layer.geom_type) <= {"MultiLineString"}


def test_the_centreline_is_as_long_as_its_geodesics(analysis: m.Analysis) -> None:
    route = analysis.routes[0]
    line = analysis.to_geodataframe("centreline").geometry[0]
    lon, lat = shapely.get_coordinates(line).T
    assert np.array_equal(lat, route.lat_deg)
    assert Geod(ellps="WGS84").line_length(lon, lat) == pytest.approx(
        Geod(ellps="WGS84").line_length(route.lon_deg, route.lat_deg), rel=1e-9
    )
