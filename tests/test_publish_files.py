"""Every file of a published folder is opened, and holds no position near a start or an end.

Text is searched for all pairs of neighbouring numbers in both orders and for arrays named lon and lat, layers
by geometry, and every file as bytes for pairs of binary numbers. The same search finds the doors in a folder
that was not cut.
"""

from __future__ import annotations

import base64
import io
import itertools
import json
import random
import re
import sqlite3
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely
from pyproj import Geod

from records import make_analysis
from trackspread import model as m
from trackspread.api import write_report
from trackspread.publish import cut_for_publishing
from trackspread.reports.film import write_film
from trackspread.reports.ground import ASPECT
from trackspread.reports.shots import flat, scenes

LEAST_M = 200.0
NEAR_DEG = 0.02
WGS84 = Geod(ellps="WGS84")
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
TEXTS = {".html", ".json", ".csv", ".txt", ".svg"}
Positions = np.ndarray[Any, Any]


@pytest.fixture(scope="module")
def whole() -> m.Analysis:
    return make_analysis()


@pytest.fixture(scope="module")
def published(whole: m.Analysis) -> m.Analysis:
    return cut_for_publishing(whole, rng=random.Random(7), hide_dates=True)


@pytest.fixture(scope="module")
def folders(
    whole: m.Analysis, published: m.Analysis, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Path]:
    base = tmp_path_factory.mktemp("folders")
    for name, analysis in (("private", whole), ("published", published)):
        write_report(analysis, base / name)
        write_film(scenes(analysis, ASPECT), base / name, sizes=(1080,))
    return {path.name: path for path in base.iterdir()}


@pytest.fixture(scope="module")
def doors(whole: m.Analysis) -> Positions:
    """Ends of centrelines, and the first and last points of traces near them."""
    lines = [(r.lon_deg[i], r.lat_deg[i]) for r in whole.routes for i in (0, -1)]
    points = [(t.lon_deg[i], t.lat_deg[i]) for r in whole.routes for t in r.traces for i in (0, -1)]
    near = [p for p in points if min(WGS84.inv(*p, *end)[2] for end in lines) < LEAST_M]
    return np.array(lines + near)


def _within(positions: Positions, doors: Positions) -> Positions:
    """Positions (N, 2) less than the least cut from a door."""
    positions = np.asarray(positions, dtype=float).reshape(-1, 2)
    with np.errstate(invalid="ignore", over="ignore"):
        rough = np.zeros(len(positions), dtype=bool)
        for lon, lat in doors:
            rough |= (np.abs(positions[:, 0] - lon) < NEAR_DEG) & (np.abs(positions[:, 1] - lat) < NEAR_DEG)
    found = positions[rough]
    hit = np.zeros(len(found), dtype=bool)
    for lon, lat in doors:
        _, _, away = WGS84.inv(found[:, 0], found[:, 1], np.full(len(found), lon), np.full(len(found), lat))
        hit |= np.asarray(away) < LEAST_M - 0.5
    return np.unique(found[hit], axis=0)


def _pairs(text: str) -> Positions:
    numbers = np.array([float(n) for n in NUMBER.findall(text) if len(n) < 30])
    ahead = np.column_stack([numbers[:-1], numbers[1:]])
    return np.concatenate([ahead, ahead[:, ::-1]])


def _named_arrays(value: Any) -> Iterator[Positions]:
    """Pairs of arrays or numbers in one object whose names begin with lon and lat."""
    if isinstance(value, dict):
        for a, b in itertools.product(value, value):
            if str(a).startswith("lon") and str(b).startswith("lat"):
                one, two = (np.atleast_1d(np.array(value[k], dtype=float)) for k in (a, b))
                if one.shape == two.shape:
                    yield np.column_stack([one, two])
        for inner in value.values():
            yield from _named_arrays(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _named_arrays(inner)


def _embedded(text: str) -> Iterator[str]:
    """The text itself and everything within it in base 64."""
    yield text
    for found in re.findall(r"base64,([A-Za-z0-9+/=]{16,})", text):
        yield base64.b64decode(found + "=" * (-len(found) % 4)).decode("utf-8", "replace")


def _binary(data: bytes) -> Positions:
    """Neighbouring 64-bit numbers at every offset of bytes, in both orders of bytes."""
    out = []
    for offset, kind in itertools.product(range(8), ("<f8", ">f8")):
        part = data[offset:]
        values = np.frombuffer(part[: len(part) // 8 * 8], dtype=kind)
        plain = np.isfinite(values) & (np.abs(values) <= 360.0)
        both = plain[:-1] & plain[1:]
        out.append(np.column_stack([values[:-1][both], values[1:][both]]))
    found = np.concatenate(out)
    return np.concatenate([found, found[:, ::-1]])


def _in_layers(file: Path) -> Iterator[Positions]:
    """Geometry, texts, definitions and extents of a GeoPackage."""
    for layer, _ in pyogrio.list_layers(file):
        frame = gpd.read_file(file, layer=layer)
        yield shapely.get_coordinates(frame.geometry.values)
        for column in frame.columns.difference(["geometry"]):
            yield _pairs(" ".join(map(str, frame[column])))
    with sqlite3.connect(file) as base:
        for (statement,) in base.execute("SELECT sql FROM sqlite_master WHERE sql NOT NULL"):
            yield _pairs(statement)
        rows = base.execute("SELECT min_x, min_y, max_x, max_y FROM gpkg_contents").fetchall()
        yield np.array([[x, y] for a, b, c, d in rows if a is not None for x in (a, c) for y in (b, d)])


def _positions(file: Path) -> Iterator[Positions]:
    """All that could be a position in one file."""
    data = file.read_bytes()
    yield _binary(data)
    if file.suffix in TEXTS:
        for text in _embedded(data.decode("utf-8")):
            yield _pairs(text)
        for block in re.findall(
            r"<script type=\"application/json\"[^>]*>(.*?)</script>", data.decode("utf-8"), re.S
        ):
            yield from _named_arrays(json.loads(block))
        for found in re.finditer(
            r'\{[^{}]*"lon\w*":(\[[^\]]*\])[^{}]*"lat\w*":(\[[^\]]*\])', data.decode("utf-8")
        ):
            yield np.column_stack([json.loads(found[1]), json.loads(found[2])])
    elif file.suffix == ".gpkg":
        yield from _in_layers(file)
    elif file.suffix == ".npz":
        with np.load(file) as arrays:
            for name in arrays.files:
                if name.endswith("lon_deg"):
                    yield np.column_stack([arrays[name], arrays[name.replace("lon_deg", "lat_deg")]])
        with zipfile.ZipFile(file) as archive:
            for name in archive.namelist():
                yield _binary(archive.read(name))
    elif file.suffix == ".png":
        pass
    else:
        raise AssertionError(f"no search for {file.name}")


def _corners(analysis: m.Analysis) -> set[tuple[float, float]]:
    """Corners of boxes around what is left: no positions of anything, and they follow from what is shown."""
    boxes = [entry.bounds for route in analysis.routes for entry in route.film]
    for route in analysis.routes:
        lines = [(route.lon_deg, route.lat_deg), *((t.lon_deg, t.lat_deg) for t in route.traces)]
        boxes += [(x.min(), y.min(), x.max(), y.max()) for x, y in lines]
    lon = np.concatenate(
        [np.concatenate([r.lon_deg, *(t.lon_deg for t in r.traces)]) for r in analysis.routes]
    )
    lat = np.concatenate(
        [np.concatenate([r.lat_deg, *(t.lat_deg for t in r.traces)]) for r in analysis.routes]
    )
    boxes.append((lon.min(), lat.min(), lon.max(), lat.max()))
    return {(round(float(x), 4), round(float(y), 4)) for w, s, e, n in boxes for x in (w, e) for y in (s, n)}


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def test_the_folders_have_all_kinds_of_files(folders: dict[str, Path]) -> None:
    names = {path.name for path in _files(folders["published"])}
    assert {"report.html", "map.html", "result.json", "layers.gpkg", "arrays.npz", "sequence.html"} <= names
    assert {path.suffix for path in _files(folders["published"])} >= {
        ".html",
        ".json",
        ".csv",
        ".gpkg",
        ".npz",
        ".png",
    }


def test_no_file_holds_a_position_near_a_door(
    folders: dict[str, Path], doors: Positions, published: m.Analysis
) -> None:
    corners = _corners(published)
    for file in _files(folders["published"]):
        for positions in _positions(file):
            near = [p for p in _within(positions, doors) if (round(p[0], 4), round(p[1], 4)) not in corners]
            assert not near, (file.name, near[:5])


@pytest.mark.parametrize(
    "name", ["report.html", "map.html", "result.json", "layers.gpkg", "arrays.npz", "stations.csv"]
)
def test_the_search_finds_the_doors_where_nothing_was_cut(
    folders: dict[str, Path], doors: Positions, name: str
) -> None:
    (file,) = folders["private"].rglob(name)
    found = np.concatenate([_within(positions, doors) for positions in _positions(file)])
    for lon, lat in doors[:4]:
        assert min(WGS84.inv(*p, lon, lat)[2] for p in found) < 1.0


@pytest.mark.parametrize("kind", ["private", "published"])
def test_the_sequence_draws_nothing_near_a_door_once_it_is_cut(
    folders: dict[str, Path], doors: Positions, whole: m.Analysis, published: m.Analysis, kind: str
) -> None:
    """Its lengths are decimetres from the middle of each route, which is shown."""
    analysis = {"private": whole, "published": published}[kind]
    page = (folders[kind] / "sequence.html").read_text("utf-8")
    data = json.loads(page.split('id="data">')[1].split("</script>")[0])
    nearest = []
    for route, scene in zip(analysis.routes, data["scenes"], strict=True):
        middle = len(route.lon_deg) // 2
        x, y = flat(doors[:, 0], doors[:, 1], (float(route.lon_deg[middle]), float(route.lat_deg[middle])))
        for line in (scene, *scene["paths"]):
            east, north = np.cumsum(line["x"]) / 10, np.cumsum(line["y"]) / 10
            nearest.append(np.hypot(east[:, None] - x, north[:, None] - y).min())
    assert (min(nearest) >= LEAST_M - 0.5) == (kind == "published")


def test_pictures_carry_no_texts(folders: dict[str, Path]) -> None:
    from PIL import Image

    for file in folders["published"].rglob("*.png"):
        with Image.open(file) as picture:
            assert set(picture.info) <= {"dpi"}, file.name


def test_no_file_holds_a_name_or_a_date_of_a_recording(folders: dict[str, Path], whole: m.Analysis) -> None:
    secrets = {record.file for record in whole.inputs} | {"2025-12", "2026-01-01", "2025-11"}
    for file in _files(folders["published"]):
        data = file.read_bytes()
        if file.suffix == ".npz":
            with zipfile.ZipFile(io.BytesIO(data)) as archive:
                data = b"".join(archive.read(name) for name in archive.namelist())
        for text in _embedded(data.decode("utf-8", "replace")):
            assert not [secret for secret in secrets if secret in text], file.name


def test_no_time_of_day_is_left_in_arrays(folders: dict[str, Path]) -> None:
    with np.load(folders["published"] / "arrays.npz") as arrays:
        for name in arrays.files:
            if name.endswith("_s"):
                assert np.nanmax(np.abs(arrays[name]), initial=0.0) < 86_400


def test_axes_and_tables_end_where_the_cut_route_does(
    folders: dict[str, Path], whole: m.Analysis, published: m.Analysis
) -> None:
    document = json.loads((folders["published"] / "result.json").read_text("utf-8"))
    for before, after, route in zip(whole.routes, published.routes, document["routes"], strict=True):
        assert route["length_m"] == round(after.length_m)
        assert route["length_m"] < before.length_m - 2 * LEAST_M
        assert max(segment["to_m"] for segment in route["segments"]) <= after.length_m + 0.1
        assert route["grid"]["proj4"].startswith("withheld")
        for trace in route["traces"]:
            assert trace["first_fix"]["at_station_m"] is None
            assert trace["first_fix"]["at_station_m_reason"].startswith("withheld")
