"""Reference lines: GPX routes and tracks, GeoJSON, and what is none."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trackspread.errors import UnreadableFile
from trackspread.readers.reference_line import read_reference

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'


def written(folder: Path, text: str | bytes, name: str = "line.gpx") -> Path:
    file = folder / name
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    return file


def test_a_route_and_a_track(tmp_path: Path) -> None:
    """Element names and order as in the GPX 1.1 schema (topografix.com)."""
    text = (
        f'{HEAD}<rte><name>n</name><rtept lat="47.5" lon="-30.25"/><rtept lat="47.6" lon="-30.2"/></rte>'
        '<trk><trkseg><trkpt lat="1" lon="2"/><trkpt lat="3" lon="4"/></trkseg>'
        '<trkseg><trkpt lat="5" lon="6"/></trkseg></trk></gpx>'
    )
    route, track = read_reference(written(tmp_path, text))
    assert route[0].tolist() == [-30.25, -30.2]
    assert route[1].tolist() == [47.5, 47.6]
    assert track[0].tolist() == [2.0, 4.0]


LINE = {"type": "LineString", "coordinates": [[-30.0, 47.0], [-30.1, 47.1, 12.0]]}


@pytest.mark.parametrize(
    ("document", "parts"),
    [
        (LINE, 1),
        ({"type": "Feature", "properties": None, "geometry": LINE}, 1),
        ({"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": LINE}] * 3}, 3),
        ({"type": "GeometryCollection", "geometries": [LINE, {"type": "Point", "coordinates": [0, 0]}]}, 1),
        ({"type": "MultiLineString", "coordinates": [LINE["coordinates"], LINE["coordinates"]]}, 2),
    ],
)
def test_geojson_wherever_the_line_stands(tmp_path: Path, document: object, parts: int) -> None:
    """RFC 7946: longitude first, a third number is the height."""
    found = read_reference(written(tmp_path, json.dumps(document), "line.geojson"))
    assert len(found) == parts
    assert found[0][0].tolist() == [-30.0, -30.1]
    assert found[0][1].tolist() == [47.0, 47.1]


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", ""),
        ("{", "GeoJSON"),
        ("[1, 2]", "no line"),
        ('{"type": "Point", "coordinates": [0, 0]}', "no line"),
        ('{"type": "LineString", "coordinates": [[0, 0]]}', "no line"),
        ('{"type": "LineString", "coordinates": [[0, 0], [1, 91]]}', "point 2"),
        ('{"type": "LineString", "coordinates": [[0, 0], ["1", null]]}', "point 2"),
        ('{"type": "LineString", "coordinates": [[0, 0], [NaN, 0]]}', "point 2"),
        ('{"type": "LineString", "coordinates": {"a": 1}}', "list of positions"),
        ('{"type": "LineString", "coordinates": [[0, 0], [true, 0]]}', "point 2"),
        (HEAD + '<rte><rtept lat="91" lon="0"/><rtept lat="0" lon="0"/></rte></gpx>', "point 1"),
        (HEAD + '<rte><rtept lon="0"/><rtept lat="0" lon="0"/></rte></gpx>', "point 1"),
        (HEAD + '<wpt lat="0" lon="0"/></gpx>', "no line"),
        (HEAD + '<trk><trkseg><trkpt lat="1" lon="2"/><trkpt lat="1" lon="3"/>', "whole"),
        ('<!DOCTYPE x [<!ENTITY e "x">]><gpx/>', ""),
        ("<kml/>", "gpx"),
    ],
)
def test_what_is_no_line_is_said_in_one_line(tmp_path: Path, text: str, word: str) -> None:
    with pytest.raises(UnreadableFile) as caught:
        read_reference(written(tmp_path, text))
    assert word in str(caught.value)
    assert "\n" not in str(caught.value)


def test_no_file_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.gpx", tmp_path):
        with pytest.raises(UnreadableFile, match="cannot be read"):
            read_reference(path)


def test_deep_nesting_ends(tmp_path: Path) -> None:
    deep = '{"type":"GeometryCollection","geometries":[' * 3000 + "]}" * 3000
    with pytest.raises(UnreadableFile):
        read_reference(written(tmp_path, deep, "deep.geojson"))


def refusal(file: Path) -> str:
    """Read a file; return the words of the refusal, if there is one."""
    try:
        parts = read_reference(file)
    except UnreadableFile as error:
        return str(error)
    assert all(np.isfinite(lon).all() and np.isfinite(lat).all() for lon, lat in parts)
    return ""


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_give_a_line_or_a_refusal(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    assert "\n" not in refusal(written(tmp_path_factory.mktemp("fuzz"), data))


LEAVES = (
    st.none() | st.booleans() | st.floats() | st.text(max_size=5) | st.sampled_from(["LineString", "Feature"])
)
NAMES = st.sampled_from(["type", "coordinates", "geometry", "features", "geometries"])


@settings(max_examples=60, deadline=None)
@given(
    st.recursive(
        LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES, inner), max_leaves=12
    )
)
def test_any_json_gives_a_line_or_a_refusal(
    tmp_path_factory: pytest.TempPathFactory, document: object
) -> None:
    text = json.dumps({"type": "FeatureCollection", "features": [document]})
    assert "\n" not in refusal(written(tmp_path_factory.mktemp("fuzz"), text, "x.json"))
