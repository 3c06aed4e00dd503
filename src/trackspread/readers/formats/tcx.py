"""TCX activity files (XML, as watches and their programs write them), by local names."""

from __future__ import annotations

from collections.abc import Mapping
from xml.etree.ElementTree import Element

import numpy as np

from trackspread.errors import Problem, printable
from trackspread.model import Device, Trace
from trackspread.readers.clean import as_trace
from trackspread.readers.guard import Handler, one_line, read_xml
from trackspread.readers.notes import Notes
from trackspread.readers.parts import usable
from trackspread.readers.values import degrees, metres, number, utc_seconds, utc_text

ROOT = "TrainingCenterDatabase"
FORMAT = "TCX"
LONGEST_TIMER_WAIT_S = 12 * 3600.0  # s, half a day, as in FIT
_VERSION = ("VersionMajor", "VersionMinor", "BuildMajor", "BuildMinor")


def parse_tcx(file: str, data: bytes) -> tuple[list[Trace], list[Problem]]:
    """Return the activities of a TCX file, each a trace; one without a usable position is a problem.

    The first lap's ``StartTime`` says when start was pressed, ``Creator`` which watch it was.

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
        The file is no TCX, or holds no activity with a usable position.
    """
    tcx = read_xml(file, data, ROOT, _Tcx)
    parts = ((one.part + 1, one.trace(file), one.number > 0) for one in tcx.activities)
    return usable(file, "activity", parts, lambda: _nothing(file, tcx))


def _nothing(file: str, tcx: _Tcx) -> Problem:
    if any(activity.number for activity in tcx.activities):
        rule = "no point has a usable position (an indoor session, or a recording without a fix)"
    elif tcx.other_points:
        rule = "an activity is needed, and the file holds a planned course only"
    else:
        rule = "the file holds no activity with points"
    return Problem(file=file, rule=rule, remedy="leave it out, or export the recording as GPX")


class _Tcx:
    """Takes elements from the guard; afterwards ``activities`` hold numbers."""

    def __init__(self) -> None:
        self.notes = Notes()
        self.activities: list[_Activity] = []
        self.other_points = 0
        self._activity: _Activity | None = None
        self.starts: Mapping[str, Handler] = {
            "Activity": self._start_activity, "Lap": self._start_lap, "Track": self._start_track,
        }  # fmt: skip
        self.ends: Mapping[str, Handler] = {
            "Trackpoint": self._end_point, "Activity": self._end_activity, "Creator": self._end_creator,
        }  # fmt: skip

    def has_points(self) -> bool:
        return any(activity.points for activity in self.activities)

    def _start_activity(self, element: Element, depth: int) -> None:
        if self._activity is None:
            notes = Notes() if self.activities else self.notes
            self._activity = _Activity(len(self.activities), notes)
            self.activities.append(self._activity)

    def _end_activity(self, element: Element, depth: int) -> None:
        self._activity = None

    def _start_lap(self, element: Element, depth: int) -> None:
        if self._activity is not None:
            self._activity.start_lap(element.get("StartTime", "").strip())

    def _start_track(self, element: Element, depth: int) -> None:
        if self._activity is not None:
            self._activity.start_track()

    def _end_point(self, element: Element, depth: int) -> None:
        if self._activity is None:
            self.other_points += 1
        else:
            self._activity.take(element)

    def _end_creator(self, element: Element, depth: int) -> None:
        if self._activity is not None:
            self._activity.device = _device(element)


def _local(element: Element) -> str:
    return element.tag.rpartition("}")[2].rpartition(":")[2]


def _inner(element: Element) -> dict[str, Element]:
    return {_local(child): child for child in element}


def _device(element: Element) -> Device:
    inner = _inner(element)
    texts = {name: one_line(child) for name, child in inner.items()}
    version = {name: one_line(child) for name, child in _inner(inner.get("Version", element)).items()}
    numbers = [version[name] for name in _VERSION[:2] if version.get(name)]
    serial = texts.get("UnitId", "")
    return Device(
        product=printable(texts.get("Name", ""), 60), serial="" if serial == "0" else printable(serial, 60),
        firmware=printable(".".join(numbers), 40),
    )  # fmt: skip


class _Activity:
    """One activity: points come in as elements and are kept as numbers."""

    def __init__(self, part: int, notes: Notes) -> None:
        self.part, self.notes = part, notes
        self.points: list[tuple[float, float, float, float]] = []
        self.device = Device()
        self.number = 0
        self._lap = self._track = 0
        self._start_s = np.nan
        self._set_aside = 0
        self._broken = False
        self._breaks: list[bool] = []
        self._numbers: list[int] = []

    def start_lap(self, start: str) -> None:
        self._lap += 1
        self._track = 0
        if self._lap == 1 and start:
            self._start_s = utc_seconds(utc_text(start, self.notes, f"activity {self.part + 1}, lap 1"))

    def start_track(self) -> None:
        """Begin a piece; within a lap another piece comes after a pause."""
        self._track += 1
        self._broken = self._broken or (self._track > 1 and bool(self.points))

    def _place(self) -> str:
        return self._place_of_number(self.number)

    def _place_of_number(self, number_: int) -> str:
        return f"activity {self.part + 1}, point {number_}"

    def take(self, element: Element) -> None:
        self.number += 1
        inner = _inner(element)
        text = {name: (child.text or "").strip() for name, child in inner.items()}
        time_s = utc_seconds(utc_text(text["Time"], self.notes, self._place)) if text.get("Time") else np.nan
        if "Position" not in inner:
            self.notes.note("no position", self._place())
            self._set_aside += 1
            return
        place = {name: (child.text or "").strip() for name, child in _inner(inner["Position"]).items()}
        lat = degrees(place.get("LatitudeDegrees"), 90.0, self.notes, self._place)
        lon = degrees(place.get("LongitudeDegrees"), 180.0, self.notes, self._place)
        if not lat or not lon:
            self.notes.note("bad position", self._place())
            self._set_aside += 1
            return
        height = text.get("AltitudeMeters", "")
        height = metres(height, self.notes, self._place) if height else ""
        self.points.append((time_s, float(lon), float(lat), number(height)))
        self._breaks.append(self._broken)
        self._numbers.append(self.number)
        self._broken = False

    def trace(self, file: str) -> Trace | None:
        """Return the trace, None where it has no usable position."""
        time_s, lon_deg, lat_deg, elevation_m = np.array(self.points, dtype=np.float64).reshape(-1, 4).T
        return as_trace(
            file=file, format=FORMAT, part=self.part, name="", time_s=time_s, lon_deg=lon_deg,
            lat_deg=lat_deg, elevation_m=elevation_m, break_before=np.array(self._breaks, dtype=bool),
            start_s=self._start_s, start_from="timer", longest_wait_s=LONGEST_TIMER_WAIT_S,
            receiver=self.device.product, ride="", set_aside=self._set_aside, notes=self.notes,
            place=lambda i: self._place_of_number(self._numbers[i]), device=self.device,
        )  # fmt: skip
