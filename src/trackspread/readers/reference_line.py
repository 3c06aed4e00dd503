"""A surveyed or drawn line to hold traces against: GPX route or track, or GeoJSON LineString."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from xml.etree.ElementTree import Element

import numpy as np

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.model import Floats
from trackspread.readers.guard import Handler, read_xml
from trackspread.readers.notes import Notes
from trackspread.system.opening import regular_bytes

LARGEST_REFERENCE_BYTES = 64 * 2**20  # bytes, bounds memory
DEEPEST = 40  # levels of objects
_REMEDY = "give a GPX route or track, or a GeoJSON LineString"

Part = tuple[Floats, Floats]
"""Longitude and latitude of one piece, degrees, shape (V,) each."""


def read_reference(path: Path | str) -> tuple[Part, ...]:
    """Return the pieces of a reference line, at least one, of two vertices and more each.

    Parameters
    ----------
    path : str or Path
        The file.

    Returns
    -------
    tuple of Part

    Raises
    ------
    UnreadableFile
        The file cannot be read, holds no line, or a position out of range (a reference with a bad point is
        not trusted).
    """
    path = Path(path)
    file = printable(str(path), 200)
    try:
        data = regular_bytes(path, LARGEST_REFERENCE_BYTES + 1)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise _refused(file, "", f"cannot be read: {why}") from error
    if len(data) > LARGEST_REFERENCE_BYTES:
        raise _refused(file, "", "a reference line of at most 64 MiB is needed")
    text_start = data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1]
    parts = _geojson(file, data) if text_start in (b"{", b"[") else _gpx(file, data)
    if not parts:
        raise _refused(file, "", "the file holds no line of two points and more")
    return tuple(parts)


def _refused(file: str, place: str, rule: str, value: str = "") -> UnreadableFile:
    return UnreadableFile(Problem(file=file, place=place, value=value, rule=rule, remedy=_REMEDY))


def _gpx(file: str, data: bytes) -> list[Part]:
    """Return routes and track segments; the guard has seen the text before it is parsed."""
    lines = read_xml(file, data, "gpx", _Lines)
    if broken := lines.notes.first("broken off"):
        raise _refused(file, broken, "the XML must be whole")
    parts: list[Part] = []
    for kind, pairs in lines.found:
        parts += _part(file, f"{kind} {len(parts) + 1}", pairs)
    return parts


class _Lines:
    """Takes the routes and track segments of a GPX file from the guard."""

    def __init__(self) -> None:
        self.notes = Notes()
        self.found: list[tuple[str, list[list[str]]]] = []
        self.starts: Mapping[str, Handler] = {
            "rte": lambda element, depth: self.found.append(("rte", [])),
            "trkseg": lambda element, depth: self.found.append(("trkseg", [])),
        }
        self.ends: Mapping[str, Handler] = {"rtept": self._take, "trkpt": self._take}

    def has_points(self) -> bool:
        return bool(self.found)

    def _take(self, element: Element, depth: int) -> None:
        if self.found:
            self.found[-1][1].append([element.get("lon", ""), element.get("lat", "")])


def _geojson(file: str, data: bytes) -> list[Part]:
    """Return the LineStrings of a document (RFC 7946), wherever they stand in it."""
    try:
        document = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise _refused(file, "", f"GeoJSON in UTF-8 is needed: {printable(str(error), 120)}") from None
    parts: list[Part] = []
    _collect(file, document, parts, 0)
    return parts


def _collect(file: str, value: object, parts: list[Part], depth: int) -> None:
    if not isinstance(value, dict) or depth > DEEPEST:
        return
    kind, inside = value.get("type"), value.get("coordinates")
    if kind == "LineString":
        parts += _part(file, f"line {len(parts) + 1}", inside)
    elif kind == "MultiLineString" and isinstance(inside, list):
        for line in inside:
            parts += _part(file, f"line {len(parts) + 1}", line)
    elif kind == "Feature":
        _collect(file, value.get("geometry"), parts, depth + 1)
    for name in ("features", "geometries"):
        members = value.get(name)
        for member in members if isinstance(members, list) else []:
            _collect(file, member, parts, depth + 1)


def _part(file: str, place: str, pairs: object) -> list[Part]:
    """Return one piece, checked position by position; nothing where it has fewer than two."""
    if not isinstance(pairs, list):
        raise _refused(file, place, "a list of positions is needed", type(pairs).__name__)
    lon, lat = [], []
    for number, pair in enumerate(pairs, 1):
        position = _position(pair)
        if position is None:
            raise _refused(
                file,
                f"{place}, point {number}",
                "longitude and latitude in degrees are needed",
                str(pair)[:60],
            )
        lon.append(position[0])
        lat.append(position[1])
    return [(np.array(lon), np.array(lat))] if len(lon) >= 2 else []


def _position(pair: object) -> tuple[float, float] | None:
    if not isinstance(pair, list) or len(pair) < 2 or any(isinstance(v, bool) for v in pair[:2]):
        return None
    try:
        lon, lat = float(pair[0]), float(pair[1])
    except (TypeError, ValueError, OverflowError):
        return None
    inside = math.isfinite(lon) and math.isfinite(lat) and abs(lon) <= 180.0 and abs(lat) <= 90.0
    return (lon, lat) if inside else None
