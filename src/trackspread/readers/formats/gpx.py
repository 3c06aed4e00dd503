"""GPX 1.0 and 1.1 (topografix.com schemas) by gpxpy, the only module that knows it.

The library loses a whole file to one bad latitude, lets 91.5, nan and inf pass, takes any XML for a GPX
without points, and is slower once another XML library is installed. So it gets elements that the guard
has let through, point by point, and never sees the text. Times are read as in all other formats.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from xml.etree.ElementTree import Element, SubElement

import numpy as np
from gpxpy.gpx import GPXTrackPoint
from gpxpy.gpxfield import gpx_fields_from_xml

from trackspread.errors import Problem, printable
from trackspread.model import Claims, Device, Floats, Trace
from trackspread.model.arrays import first_known
from trackspread.readers.clean import LONGEST_WAIT_S, as_trace
from trackspread.readers.guard import Handler, one_line, read_xml
from trackspread.readers.notes import Notes
from trackspread.readers.parts import usable
from trackspread.readers.values import degrees, metres, number, utc_seconds, utc_text

_FIELDS = ("latitude", "longitude", "elevation")
_BATCH = 5000  # points taken over at once, bounds memory
_LONGEST_SEARCH_S = 12 * 3600.0  # s, half a day: points without a fix are waiting, however long
LEAST_WAIT_S = 1.0  # s, what exporters write: the time of the first point
HEAD_IS_FIRST = "head_is_first_point"
"""Code: the time in the file's head is that of its first point, as exporters write it."""
_CLAIMS = {"hdop": "hdop", "pdop": "pdop", "sat": "satellites"}


def parse_gpx(file: str, data: bytes) -> tuple[list[Trace], list[Problem]]:
    """Return the tracks of a GPX file, each a trace; a track without a usable point is a problem.

    Parameters
    ----------
    file : str
        The file as the user named it.
    data : bytes
        What it holds.

    Returns
    -------
    traces : list of Trace
    problems : list of Problem

    Raises
    ------
    UnreadableFile
        The file is no GPX, or holds no usable track point.
    """
    gpx = read_xml(file, data, "gpx", _Gpx)
    gpx.flush()
    parts = ((track.part + 1, track.trace(file, gpx), track.number > 0) for track in gpx.tracks)
    return usable(file, "track", parts, lambda: _nothing(file, gpx))


def _nothing(file: str, gpx: _Gpx) -> Problem:
    if any(track.set_aside for track in gpx.tracks):
        rule = "no point has a usable position (an indoor session, or a recording without a fix)"
    elif gpx.other_points:
        rule = "a track with points is needed, and the file holds waypoints or routes only"
    else:
        rule = "the file holds no track points"
    return Problem(file=file, rule=rule, remedy="export a recording with positions as a track")


def _wanted_fields() -> list[Any]:
    return [field for field in GPXTrackPoint.gpx_11_fields if getattr(field, "name", "") in _FIELDS]


class _Point(GPXTrackPoint):
    """The library's point, of which only what an analysis uses is read."""

    gpx_11_fields = _wanted_fields()


class _Gpx:
    """Takes elements from the guard; afterwards ``tracks`` hold numbers."""

    def __init__(self) -> None:
        self.notes = Notes()
        self.version = self.creator = self.name = ""
        self.time_s = float("nan")
        self.other_points = 0
        self.tracks: list[_Track] = []
        self._root: Element | None = None
        self._metadata = False
        self._track: _Track | None = None
        self._segment: Element | None = None
        self._pending: list[Element] = []
        self.starts: Mapping[str, Handler] = {
            "gpx": self._start_gpx, "metadata": self._start_metadata, "trk": self._start_track,
            "trkseg": self._start_segment,
        }  # fmt: skip
        self.ends: Mapping[str, Handler] = {
            "trkpt": self._end_point, "trkseg": self._end_segment, "trk": self._end_part,
            "name": self._end_name, "src": self._end_source, "time": self._end_time, "wpt": self._end_other,
            "rtept": self._end_other, "rte": self._end_part, "metadata": self._end_part,
            "extensions": self._end_part,
        }  # fmt: skip

    def has_points(self) -> bool:
        return any(track.places for track in self.tracks)

    def _start_gpx(self, element: Element, depth: int) -> None:
        if depth == 1:
            self._root = element
            self.version = printable(element.get("version", "").strip(), 8)
            self.creator = element.get("creator", "")

    def _start_metadata(self, element: Element, depth: int) -> None:
        self._metadata = depth == 2

    def _start_track(self, element: Element, depth: int) -> None:
        if self._track is None and depth == 2:
            notes = Notes() if self.tracks else self.notes
            self._track = _Track(len(self.tracks), notes)
            self.tracks.append(self._track)

    def _start_segment(self, element: Element, depth: int) -> None:
        if self._track is not None and depth == 3:
            self._segment = element
            self._track.start_segment()

    def _end_point(self, element: Element, depth: int) -> None:
        if self._track is None or depth > 4:
            return
        if self._track.takes(element):
            self._pending.append(element)
        if len(self._pending) >= _BATCH:
            self.flush()

    def flush(self) -> None:
        """Turn the points that wait into numbers, and let go of them."""
        if self._track is not None:
            self._track.keep(self._pending)
        self._pending = []
        if self._segment is not None:
            self._segment.clear()

    def _end_segment(self, element: Element, depth: int) -> None:
        if element is self._segment:
            self.flush()
            self._segment = None

    def _end_part(self, element: Element, depth: int) -> None:
        if depth == 2 and self._root is not None:
            self.flush()
            self._track = self._segment = None
            self._metadata = False
            self._root.clear()

    def _end_other(self, element: Element, depth: int) -> None:
        self.other_points += 1
        self._end_part(element, depth)

    def _end_name(self, element: Element, depth: int) -> None:
        if depth == 3 and self._track is not None:
            self._track.name = one_line(element)
        elif self._is_of_file(depth):
            self.name = self.name or one_line(element)

    def _is_of_file(self, depth: int) -> bool:
        return depth == 2 or (depth == 3 and self._metadata)

    def _end_source(self, element: Element, depth: int) -> None:
        if depth == 3 and self._track is not None:
            self._track.source = one_line(element)

    def _end_time(self, element: Element, depth: int) -> None:
        """Take the time of the file: in the metadata (1.1) or at the top (1.0)."""
        if self._is_of_file(depth) and not np.isfinite(self.time_s):
            text = utc_text((element.text or "").strip(), self.notes, "time of the file")
            self.time_s = utc_seconds(text)


class _Track:
    """One track: points come in as elements and are kept as numbers."""

    def __init__(self, part: int, notes: Notes) -> None:
        self.part, self.notes = part, notes
        self.name = self.source = ""
        self.set_aside = self.segment = self.number = 0
        self.places: list[tuple[int, int]] = []
        self._time_s: list[float] = []
        self._lon_deg: list[float] = []
        self._lat_deg: list[float] = []
        self._elevation_m: list[float] = []
        self._search_s: list[float] = []
        self._claims: dict[str, dict[int, float]] = {}

    def start_segment(self) -> None:
        self.segment += 1
        self.number = 0

    def _place(self) -> str:
        return f"track {self.part + 1}, segment {max(self.segment, 1)}, point {self.number}"

    def takes(self, element: Element) -> bool:
        """Make a point fit for the library; say whether it is a position."""
        self.number += 1
        inner = {child.tag.rpartition("}")[2]: child.text for child in element}
        time, height, fix = inner.get("time") or "", inner.get("ele") or "", inner.get("fix")
        if time:
            time = utc_text(time.strip(), self.notes, self._place)
        if fix and fix.strip().lower() == "none":
            self._search(time)
            return False
        lat = degrees(element.get("lat"), 90.0, self.notes, self._place)
        lon = degrees(element.get("lon"), 180.0, self.notes, self._place)
        if not lat or not lon:
            self.notes.note("bad position", self._place())
            self.set_aside += 1
            return False
        if height:
            height = metres(height.strip(), self.notes, self._place)
        for name in _CLAIMS.keys() & inner.keys():
            self._claims.setdefault(_CLAIMS[name], {})[len(self.places)] = number(inner[name])
        _fill(element, lat, lon, height)
        self._time_s.append(utc_seconds(time))
        self.places.append((self.segment, self.number))
        return True

    def _search(self, time: str) -> None:
        """Keep the time of a point that says itself that there was no fix."""
        self.notes.note("no fix", self._place())
        self.set_aside += 1
        if not self.places and time:
            self._search_s.append(utc_seconds(time))

    def keep(self, elements: list[Any]) -> None:
        """Let the library read the points, and keep the numbers."""
        points = [gpx_fields_from_xml(_Point, element, "1.1") for element in elements]
        self._lon_deg += [point.longitude for point in points]
        self._lat_deg += [point.latitude for point in points]
        self._elevation_m += [np.nan if point.elevation is None else point.elevation for point in points]

    def trace(self, file: str, gpx: _Gpx) -> Trace | None:
        segment = np.array([segment for segment, _ in self.places], dtype=np.int64)
        time_s = _array(self._time_s)
        start_s, longest_s, reason = gpx.time_s, LONGEST_WAIT_S, ""
        first_s = first_known(time_s)
        if self._search_s:
            start_s, longest_s = self._search_s[0], _LONGEST_SEARCH_S
        elif abs(first_s - start_s) < LEAST_WAIT_S:
            start_s, reason = np.nan, HEAD_IS_FIRST
        return as_trace(
            file=file, format=f"GPX {gpx.version}".strip(), part=self.part, name=self.name or gpx.name,
            time_s=time_s, lon_deg=_array(self._lon_deg), lat_deg=_array(self._lat_deg),
            elevation_m=_array(self._elevation_m), break_before=np.diff(segment, prepend=segment[:1]) > 0,
            start_s=start_s, longest_wait_s=longest_s, ride="", set_aside=self.set_aside, notes=self.notes,
            receiver=printable(self.source, 60).strip(), place=self._place_of, start_reason=reason,
            device=Device(writer=printable(gpx.creator, 60).strip()), claims=self._claimed(),
        )  # fmt: skip

    def _claimed(self) -> Claims:
        """Return what the points say of their accuracy, ``NaN`` where one says nothing."""
        columns = {}
        for name, given in self._claims.items():
            columns[name] = np.full(len(self.places), np.nan)
            columns[name][list(given)] = list(given.values())
        return Claims(**columns)

    def _place_of(self, index: int) -> str:
        segment, number = self.places[index]
        return f"track {self.part + 1}, segment {max(segment, 1)}, point {number}"


def _fill(element: Element, lat: str, lon: str, height: str) -> None:
    """Leave of a point what the library is to read, without the name space."""
    del element[:]
    if height:
        SubElement(element, "ele").text = height
    element.attrib.clear()
    element.set("lat", lat)
    element.set("lon", lon)


def _array(values: list[float]) -> Floats:
    return np.array(values, dtype=np.float64)
