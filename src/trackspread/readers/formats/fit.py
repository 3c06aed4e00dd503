"""FIT activity files (binary, as watches write them) by fitdecode, the only module that knows it.

The library checks nothing for plausibility, so numbers are checked here; it stops with an error of its own at
the first byte that it cannot read, so points are kept as they come. What one file may ask for is bounded by
work (messages, fields, bytes), not by time, so that a file gives the same on every machine.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import fitdecode
import numpy as np

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.model import Claims, Device, Floats, Trace
from trackspread.readers.clean import as_trace
from trackspread.readers.limits import check_points
from trackspread.readers.notes import Notes

EPOCH_S = 631_065_600.0
"""1989-12-31T00:00:00Z, from which FIT counts seconds (FIT protocol, type date_time)."""
LEAST_DATE = 0x10000000
"""Below this a date_time counts seconds since the watch was switched on (FIT protocol, type date_time)."""
DEGREES = 180.0 / 2**31
"""Degrees of a semicircle (FIT profile, unit of position_lat and position_long)."""
MOST_WORK = 40_000_000
"""Work that one file may ask for: a day and a half at one record a second with 30 fields, some 20 s."""
MESSAGE_WORK, FIELD_WORK, FILE_WORK = 10, 8, 1000
"""Beside one for each byte; as measured: 3.4 us a message, 3 us a field, 0.4 us a byte of texts and lists."""
LONGEST_TIMER_WAIT_S = 12 * 3600.0  # s, half a day: a timer that started earlier was of another day
FORMAT = "FIT"
FILE_ID, SESSION, RECORD, EVENT, DEVICE_INFO, FILE_CREATOR = 0, 18, 20, 21, 23, 49
"""Numbers of messages (FIT profile)."""
WANTED = frozenset((FILE_ID, SESSION, RECORD, EVENT, DEVICE_INFO, FILE_CREATOR))
"""Global message numbers (FIT profile, type mesg_num)."""


def parse_fit(file: str, data: bytes) -> tuple[list[Trace], list[Problem]]:
    """Return the activities of a FIT file, one trace for each session of each chained file.

    The start of the timer (message ``event``, or else the start of the session) says when start was pressed;
    ``file_id`` and ``device_info`` say which watch it was; ``gps_accuracy`` is kept for each point.

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
        The file is no FIT activity, or holds no usable position.
    """
    notes = Notes()
    activities: list[_Activity] = []
    for frame in _frames(file, data, notes):
        if frame.frame_type == fitdecode.FIT_FRAME_HEADER:
            activities.append(_Activity(notes=notes, number=len(activities) + 1))
        else:
            activities[-1].take(frame)
            check_points(file, len(activities[-1].points))
    traces: list[Trace] = []
    problems: list[Problem] = []
    part = 0
    for activity in activities:
        for session in activity.sessions():
            trace = activity.trace(file, part, session, Notes() if traces else notes)
            part += 1
            if trace is not None:
                traces.append(trace)
            elif part > 1:
                problems.append(Problem(file=file, place=f"session {part}", rule="it has no usable position"))
    if not traces:
        raise UnreadableFile(_nothing(file, activities, notes))
    return traces, problems


def _nothing(file: str, activities: Sequence[_Activity], notes: Notes) -> Problem:
    """Say why a file gives nothing."""
    kinds = [activity.kind for activity in activities if not activity.is_recording]
    broken = notes.first("broken off")
    if any(activity.without_position for activity in activities):
        rule = "no record has a position (an indoor session, or a recording without a fix)"
        return Problem(file=file, rule=rule, remedy="leave it out")
    if kinds:
        rule = "a FIT file of the kind activity is needed, and this is of another kind"
        return Problem(file=file, value=kinds[0], rule=rule, remedy="leave it out")
    if broken:
        rule = "the file breaks off before the first position"
        return Problem(file=file, place=broken, rule=rule, remedy="copy it from the watch again")
    return Problem(file=file, rule="the file holds no records with positions", remedy="leave it out")


def _frames(file: str, data: bytes, notes: Notes) -> Iterator[Any]:
    """Yield headers and wanted messages up to the first byte that the library cannot read.

    The errors of the library are many: its own, and those of Python where hostile bytes lead it astray.
    """
    work = frames = 0
    cost: dict[int, int] = {}
    reader = iter(
        fitdecode.FitReader(
            data, processor=None, check_crc=fitdecode.CrcCheck.READONLY,
            error_handling=fitdecode.ErrorHandling.IGNORE,
        )
    )  # fmt: skip
    while work <= MOST_WORK:
        try:
            frame = next(reader, None)
        except Exception:
            if not frames:
                rule = "this is no FIT file, or its first bytes are damaged"
                raise UnreadableFile(
                    Problem(file=file, place="start", rule=rule, remedy="copy it from the watch again")
                ) from None
            notes.note("broken off", f"message {frames + 1}")
            return
        if frame is None:
            return
        frames += 1
        kind = frame.frame_type
        if kind == fitdecode.FIT_FRAME_DATA:
            work += cost[frame.local_mesg_num]
            if frame.global_mesg_num in WANTED:
                yield frame
        elif kind == fitdecode.FIT_FRAME_DEFINITION:
            fields = tuple(frame.all_field_defs)
            cost[frame.local_mesg_num] = MESSAGE_WORK + sum(FIELD_WORK + each.size for each in fields)
            work += MESSAGE_WORK + FIELD_WORK * len(fields)
        elif kind == fitdecode.FIT_FRAME_HEADER:
            work += FILE_WORK
            yield frame
        elif not frame.matched:
            notes.note("bad checksum of the file", f"message {frames}")
    notes.note("too long", f"message {frames}")


def _values(frame: Any) -> dict[str, Any]:
    """Return the fields of a message by the name of the profile, without those of developers."""
    return {
        (given.parent_field or given.field).name: given.value
        for given in frame.fields
        if given.field is not None and not getattr(given.field_def, "is_dev", False)
    }


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) and math.isfinite(value) else math.nan


def _time_s(value: object) -> float:
    """Return seconds since 1970; a clock that was never set counts from 1970, and is told as such."""
    seconds = _number(value)
    return seconds + EPOCH_S if seconds >= LEAST_DATE else seconds


def _text(value: object) -> str:
    return "" if value is None else printable(" ".join(str(value).replace("_", " ").split()), 60)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Session:
    """What lies between two moments of a file, and when its timer was started."""

    from_s: float = -math.inf
    to_s: float = math.inf
    start_s: float = math.nan


@dataclass(kw_only=True, slots=True)
class _Activity:
    """One FIT file of a chain, message by message."""

    notes: Notes
    number: int
    kind: str = ""
    maker: str = ""
    product: str = ""
    serial: str = ""
    firmware: str = ""
    points: list[tuple[float, float, float, float, float, bool, int]] = field(default_factory=list)
    without_position: int = 0
    _lost: list[float] = field(default_factory=list)
    _record: int = 0
    _set_aside: int = 0
    _paused: bool = False
    _timer_s: list[float] = field(default_factory=list)
    _session_s: list[float] = field(default_factory=list)

    @property
    def is_recording(self) -> bool:
        """Whether it is an activity, or so broken that it does not say."""
        return self.kind in ("", "activity")

    def take(self, frame: Any) -> None:
        """Take one of the wanted messages."""
        values = _values(frame)
        number = frame.global_mesg_num
        if number == RECORD:
            self._take_record(values)
        elif number == EVENT:
            self._take_event(values)
        elif number == SESSION:
            start_s = _time_s(values.get("start_time"))
            self._session_s += [start_s] if math.isfinite(start_s) else []
        elif number == FILE_ID:
            self.kind = self.kind or _text(values.get("type"))
            self._take_device(values)
        elif number == FILE_CREATOR:
            version = _number(values.get("software_version"))
            self.firmware = self.firmware or ("" if math.isnan(version) else f"{version / 100.0:.2f}")
        elif values.get("device_index") in (0, "creator"):
            self._take_device(values)

    def _take_device(self, values: dict[str, Any]) -> None:
        self.maker = self.maker or _text(values.get("manufacturer"))
        named = _text(values.get("product_name")) or _text(values.get("product"))
        if not self.product or self.product.isdecimal():
            self.product = named or self.product
        self.serial = self.serial or _text(values.get("serial_number"))
        version = values.get("software_version")
        self.firmware = self.firmware or ("" if math.isnan(_number(version)) else f"{version:.2f}")

    def _take_event(self, values: dict[str, Any]) -> None:
        if values.get("event") != "timer":
            return
        if values.get("event_type") == "start":
            self._timer_s += [_time_s(values.get("timestamp"))]
        elif str(values.get("event_type")).startswith("stop"):
            self._paused = bool(self.points)

    def _take_record(self, values: dict[str, Any]) -> None:
        self._record += 1
        time_s = _time_s(values.get("timestamp"))
        lon, lat = _number(values.get("position_long")), _number(values.get("position_lat"))
        if math.isnan(lon) or math.isnan(lat):
            self.without_position += 1
            self.notes.note("no position", self._place(self._record))
            self._lost.append(time_s)
            return
        if not abs(lat * DEGREES) <= 90.0:
            self._set_aside += 1
            self.notes.note("bad position", self._place(self._record))
            return
        height = _number(values.get("enhanced_altitude", values.get("altitude")))
        accuracy = _number(values.get("gps_accuracy"))
        self.points.append(
            (time_s, lon * DEGREES, lat * DEGREES, height, accuracy, self._paused, self._record)
        )
        self._paused = False

    def _place(self, record: int) -> str:
        return f"record {record}" if self.number == 1 else f"file {self.number} of the chain, record {record}"

    def sessions(self) -> list[_Session]:
        """Return the sessions in order of time; a file without any is one of its own."""
        if not self.is_recording or not self.points:
            return []
        begun = sorted(set(self._session_s))[: len(self.points)]
        edges = [-math.inf, *begun[1:], math.inf]
        return [
            _Session(from_s=low, to_s=high, start_s=self._started(low, high, begun[k] if begun else math.nan))
            for k, (low, high) in enumerate(pairwise(edges))
        ]

    def _started(self, low: float, high: float, begun_s: float) -> float:
        """Return when the timer was first started within a session, or else when the session began."""
        inside = [time for time in self._timer_s if low <= time < high]
        return min(inside, default=begun_s)

    def trace(self, file: str, part: int, session: _Session, notes: Notes) -> Trace | None:
        """Return the trace of one session, None where it has no usable position."""
        whole = session.from_s == -math.inf and session.to_s == math.inf
        points = [p for p in self.points if whole or session.from_s <= p[0] < session.to_s]
        lost = sum(whole or session.from_s <= time < session.to_s for time in self._lost)
        columns: Floats = np.array([point[:5] for point in points], dtype=np.float64).reshape(-1, 5)
        time_s, lon_deg, lat_deg, elevation_m, accuracy_m = columns.T
        return as_trace(
            file=file, format=FORMAT, part=part, name="", time_s=time_s, lon_deg=lon_deg, lat_deg=lat_deg,
            elevation_m=elevation_m, break_before=np.array([point[5] for point in points], dtype=bool),
            start_s=session.start_s, start_from="timer", longest_wait_s=LONGEST_TIMER_WAIT_S,
            receiver=self.product, ride="", set_aside=lost + (0 if part else self._set_aside), notes=notes,
            place=lambda i: self._place(points[i][6]), device=self._device(), claims=_claims(accuracy_m),
        )  # fmt: skip

    def _device(self) -> Device:
        return Device(maker=self.maker, product=self.product, serial=self.serial, firmware=self.firmware)


def _claims(accuracy_m: Floats) -> Claims:
    return Claims(accuracy_m=accuracy_m) if np.isfinite(accuracy_m).any() else Claims()
