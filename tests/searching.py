"""Searches files of every kind for positions: text, what is embedded in it, layers, arrays, bytes."""

from __future__ import annotations

import base64
import itertools
import json
import re
import sqlite3
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import shapely
from pyproj import Geod

from trackspread import model as m

LEAST_M = 200.0
NEAR_DEG = 0.02
WGS84 = Geod(ellps="WGS84")
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
TEXTS = {".html", ".json", ".csv", ".txt", ".svg"}
Positions = np.ndarray[Any, Any]


def within(positions: Positions, doors: Positions) -> Positions:
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


def pairs_in(text: str) -> Positions:
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


def embedded(text: str) -> Iterator[str]:
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
            yield pairs_in(" ".join(map(str, frame[column])))
    with sqlite3.connect(file) as base:
        for (statement,) in base.execute("SELECT sql FROM sqlite_master WHERE sql NOT NULL"):
            yield pairs_in(statement)
        rows = base.execute("SELECT min_x, min_y, max_x, max_y FROM gpkg_contents").fetchall()
        yield np.array([[x, y] for a, b, c, d in rows if a is not None for x in (a, c) for y in (b, d)])


def positions_in(file: Path) -> Iterator[Positions]:
    """All that could be a position in one file."""
    data = file.read_bytes()
    yield _binary(data)
    if file.suffix in TEXTS:
        for text in embedded(data.decode("utf-8")):
            yield pairs_in(text)
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


def corners(analysis: m.Analysis) -> set[tuple[float, float]]:
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
