"""Own lines and places under the maps: read from open formats, drawn near the route, names as text."""

import json

import geopandas as gpd
import numpy as np
import pytest
import shapely

from records import PAYLOADS, make_analysis
from trackspread.errors import UnreadableFile
from trackspread.report.backdrop import lines_near, places_on, places_shown, read_backdrop
from trackspread.report.page import map_page, report_page
from trackspread.results.document import result_document

ANALYSIS = make_analysis(routes=1)
ROUTE = ANALYSIS.routes[0]
ALONG = np.column_stack([ROUTE.lon_deg, ROUTE.lat_deg + 0.0005])
AREA = shapely.box(ROUTE.lon_deg.min(), ROUTE.lat_deg.min(), ROUTE.lon_deg.max(), ROUTE.lat_deg.max())


def geojson(file, *geometries):
    features = [{"type": "Feature", "properties": {"name": PAYLOADS[3]}, "geometry": g} for g in geometries]
    file.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return file


# RFC 7946: positions are longitude, latitude; GeoPackage: OGC 12-128, written here by GDAL in another grid.
def test_lines_and_outlines_are_read_from_both_formats(tmp_path):
    file = geojson(
        tmp_path / "g.geojson",
        {"type": "LineString", "coordinates": ALONG.tolist()},
        {"type": "Point", "coordinates": [0, 0]},
        shapely.geometry.mapping(AREA),
    )
    lines = read_backdrop(file, None).lines
    assert [len(lon) for lon, _ in lines] == [len(ALONG), 5]
    package = tmp_path / "g.gpkg"
    shapes = gpd.GeoDataFrame(geometry=[shapely.LineString(ALONG), AREA], crs=4326).to_crs(3857)
    shapes.to_file(package, driver="GPKG")
    for (lon, lat), (east, north) in zip(lines, read_backdrop(package, None).lines, strict=True):
        np.testing.assert_allclose(np.column_stack([east, north]), np.column_stack([lon, lat]), atol=1e-7)


def test_what_lies_far_away_is_left_out(tmp_path):
    far = (ALONG + np.array([0.0, 1.0])).tolist()
    file = geojson(
        tmp_path / "g.json",
        {"type": "LineString", "coordinates": far},
        {"type": "LineString", "coordinates": ALONG.tolist()},
    )
    (line,) = lines_near(read_backdrop(file, None), ANALYSIS.routes)
    assert len(line[0]) > 10
    assert abs(line[1] - ROUTE.lat_deg.mean()).max() < 0.1


def test_places_stand_at_their_stations(tmp_path):
    table = tmp_path / "places.csv"
    lon, lat = float(ROUTE.lon_deg[200]), float(ROUTE.lat_deg[200])
    table.write_text(f"name,lon,lat,station\nFord,{lon},{lat},\nHut,,,2000\nPole,0,89,\n")
    backdrop = read_backdrop(None, table)
    assert places_on(backdrop, 0, ROUTE) == [(float(ROUTE.station_m[200]), "Ford"), (2000.0, "Hut")]
    assert [name for name, _, _ in places_shown(backdrop, ANALYSIS)] == ["Ford", "Hut"]


@pytest.mark.parametrize(
    ("name", "text"),
    [("g.json", "no json"), ("g.json", "{"), ("g.gpkg", "SQLite format 3\0 but nothing more")],
)
def test_other_files_are_refused_in_one_line(tmp_path, name, text):
    file = tmp_path / name
    file.write_text(text)
    with pytest.raises(UnreadableFile, match=name) as refused:
        read_backdrop(file, None)
    assert str(refused.value).isprintable()


@pytest.mark.parametrize("row", ["Ford,x,1", ",1,1", "Ford,,", "Ford,1,1,nan", "Ford,1,1,Outward"])
def test_a_place_without_name_or_position_is_refused_with_its_line(tmp_path, row):
    table = tmp_path / "places.csv"
    table.write_text(f"name,lon,lat,route\n{row}\n")
    with pytest.raises(UnreadableFile, match="line 2"):
        read_backdrop(None, table)
    with pytest.raises(UnreadableFile, match="nowhere"):
        read_backdrop(None, tmp_path / "nowhere.csv")


def test_names_of_places_are_text(tmp_path):
    table = tmp_path / "places.csv"
    rows = "".join(f'"{p.replace(chr(34), chr(34) * 2)}",{100 + 50 * i}\n' for i, p in enumerate(PAYLOADS))
    table.write_text(f"name,station\n{rows}", encoding="utf-8")
    backdrop = read_backdrop(None, table)
    document = result_document(ANALYSIS)
    for page in (
        report_page(ANALYSIS, document, None, backdrop),
        map_page(ANALYSIS, document, None, backdrop),
    ):
        assert "<img src=x" not in page
        assert "<svg/onload" not in page
