"""OGC KML 2.3 tracks (OGC 12-007r2), with or without the prefix that older files put before them."""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree.ElementTree import Element

import numpy as np

from trackspread.errors import Problem
from trackspread.model import Trace
from trackspread.readers.clean import LONGEST_WAIT_S, as_trace
from trackspread.readers.guard import Handler, one_line, read_xml
from trackspread.readers.notes import Notes
from trackspread.readers.parts import usable
from trackspread.readers.values import degrees, number, utc_seconds, utc_text

_LONGEST_SEARCH_S = 12 * 3600.0  # s, half a day, as in GPX


def parse_kml(file: str, data: bytes) -> tuple[list[Trace], list[Problem]]:
    """Return each placemark with a Track, MultiTrack or LineString as a trace.

    Several of them in one placemark are one trace with interruptions. Lines without times are read only
    where the file holds no track, since they are drawn from it.

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
        The file is no KML, or holds no usable line.
    """
    kml = read_xml(file, data, "kml", _Kml)
    kept = [mark for mark in kml.marks if mark.is_track] or kml.marks
    parts = ((mark.number, mark.trace(file, kml.version, part), True) for part, mark in enumerate(kept))
    return usable(file, "placemark", parts, lambda: _nothing(file))


def _nothing(file: str) -> Problem:
    rule = "the file holds no track or line with positions"
    return Problem(file=file, rule=rule, remedy="export the recording as a track")


class _Kml:
    """Takes elements from the guard; afterwards ``marks`` hold numbers."""

    def __init__(self) -> None:
        self.notes = Notes()
        self.version = "KML"
        self.marks: list[_Mark] = []
        self._number = 0
        self._mark = _Mark(0, self.notes)
        self._track = False
        self._line = False
        self.starts: Mapping[str, Handler] = {
            "kml": self._start_kml, "Placemark": self._start_mark, "Track": self._start_track,
            "LineString": self._start_line,
        }  # fmt: skip
        self.ends: Mapping[str, Handler] = {
            "when": self._end_when, "coord": self._end_place, "Track": self._end_track,
            "name": self._end_name, "coordinates": self._end_coordinates, "LineString": self._end_line,
            "Placemark": self._end_mark,
        }  # fmt: skip

    def has_points(self) -> bool:
        return any(mark.points or mark.places for mark in self.marks)

    def _start_kml(self, element: Element, depth: int) -> None:
        version = element.tag.partition("}")[0].rpartition("/")[2]
        self.version = f"KML {version}" if version in ("2.0", "2.1", "2.2", "2.3") else "KML"

    def _start_mark(self, element: Element, depth: int) -> None:
        self._number += 1
        self._mark = _Mark(self._number, Notes() if self.marks else self.notes)

    def _start_track(self, element: Element, depth: int) -> None:
        self._track = True
        self._mark.start_piece(is_track=True)
        self._keep()

    def _start_line(self, element: Element, depth: int) -> None:
        self._line = True
        self._mark.start_piece(is_track=False)
        self._keep()

    def _keep(self) -> None:
        if self._mark not in self.marks[-1:]:
            self.marks.append(self._mark)

    def _end_when(self, element: Element, depth: int) -> None:
        if self._track:
            self._mark.whens.append((element.text or "").strip())

    def _end_place(self, element: Element, depth: int) -> None:
        if self._track:
            self._mark.places.append((element.text or "").split())

    def _end_coordinates(self, element: Element, depth: int) -> None:
        if self._line:
            self._mark.places += [place.split(",") for place in (element.text or "").split()]

    def _end_track(self, element: Element, depth: int) -> None:
        self._track = False
        self._mark.end_piece()
        element.clear()

    def _end_line(self, element: Element, depth: int) -> None:
        self._line = False
        self._mark.end_piece()

    def _end_name(self, element: Element, depth: int) -> None:
        if not self._mark.points:
            self._mark.name = one_line(element)

    def _end_mark(self, element: Element, depth: int) -> None:
        element.clear()


class _Mark:
    """One placemark; ``whens`` and ``places`` hold the texts of the piece that is being read."""

    def __init__(self, number_: int, notes: Notes) -> None:
        self.number, self.notes = number_, notes
        self.name = ""
        self.is_track = False
        self.whens: list[str] = []
        self.places: list[list[str]] = []
        self.points: list[tuple[float, float, float, float]] = []
        self._where: list[tuple[int, int]] = []
        self._piece = 0
        self._point = 0
        self._set_aside = 0
        self._search_s: list[float] = []

    def start_piece(self, *, is_track: bool) -> None:
        self.end_piece()
        self.is_track = self.is_track or is_track
        self._piece += 1

    def end_piece(self) -> None:
        """Pair times with places in their order (KML 2.3: both lists are equally long)."""
        whens = self.whens if self.is_track else [""] * len(self.places)
        if len(whens) != len(self.places) and self.places:
            self._point = min(len(whens), len(self.places)) + 1
            self.notes.note("unequal lists", self._place(), abs(len(whens) - len(self.places)))
        for point, (when, place) in enumerate(zip(whens, self.places, strict=False), 1):
            self._point = point
            self._take(when, place)
        self.whens, self.places = [], []

    def _place(self) -> str:
        return f"placemark {self.number}, piece {self._piece}, point {self._point}"

    def _take(self, when: str, place: list[str]) -> None:
        time_s = utc_seconds(utc_text(when, self.notes, self._place)) if when else np.nan
        if not place:
            self.notes.note("no fix", self._place())
            self._set_aside += 1
            self._search_s += [] if self.points else [time_s]
            return
        lon = degrees(place[0], 180.0, self.notes, self._place)
        lat = degrees(place[1] if len(place) > 1 else None, 90.0, self.notes, self._place)
        if not lon or not lat:
            self.notes.note("bad position", self._place())
            self._set_aside += 1
            return
        height = number(place[2]) if len(place) > 2 else np.nan
        self.points.append((time_s, float(lon), float(lat), height))
        self._where.append((self._piece, self._point))

    def trace(self, file: str, version: str, part: int) -> Trace | None:
        self.end_piece()
        time_s, lon_deg, lat_deg, elevation_m = np.array(self.points, dtype=np.float64).reshape(-1, 4).T
        piece = np.array([piece for piece, _ in self._where], dtype=np.int64)
        search_s = [time for time in self._search_s if np.isfinite(time)]
        return as_trace(
            file=file, format=version, part=part, name=self.name, time_s=time_s, lon_deg=lon_deg,
            lat_deg=lat_deg, elevation_m=elevation_m, break_before=np.diff(piece, prepend=piece[:1]) > 0,
            start_s=search_s[0] if search_s else np.nan,
            longest_wait_s=_LONGEST_SEARCH_S if search_s else LONGEST_WAIT_S, receiver="", ride="",
            set_aside=self._set_aside, notes=self.notes, place=self._place_of,
        )  # fmt: skip

    def _place_of(self, index: int) -> str:
        piece, point = self._where[index]
        return f"placemark {self.number}, piece {piece}, point {point}"
