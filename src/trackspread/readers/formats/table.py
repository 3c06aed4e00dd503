"""Tables of points with named columns: CSV, and Parquet, which a process of its own turns into CSV."""

from __future__ import annotations

import csv
import math
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.model import Claims, Trace
from trackspread.readers.clean import as_trace
from trackspread.readers.guard import decoded
from trackspread.readers.limits import check_points
from trackspread.readers.notes import Notes
from trackspread.readers.values import degrees, metres, number, utc_seconds, utc_text
from trackspread.system.extras import how_to_get, is_there

ALIASES = {
    "time": ("time", "timestamp", "datetime", "date_time", "utc", "time_utc", "time_s"),
    "lon": ("lon", "lng", "long", "longitude", "lon_deg"),
    "lat": ("lat", "latitude", "lat_deg"),
    "elevation": ("elevation", "ele", "alt", "altitude", "height", "elevation_m"),
    "accuracy": ("accuracy", "accuracy_m", "gps_accuracy", "horizontal_accuracy", "hacc"),
    "receiver": ("receiver", "device"),
    "ride": ("ride",),
}
MILLISECONDS_ABOVE = 1e11  # a number so large is of milliseconds: in seconds it is the year 5138
FARTHEST_S = 1e11
"""Seconds from 1970, 3,169 years: what lies farther off is no time."""
MOST_TRACES = 10_000  # rides of a table, bounds the work
LONGEST_PARSE_S = 300.0  # s, bounds time
REFUSED = 3  # exit code of the parsing process


def parse_csv(file: str, data: bytes) -> tuple[list[Trace], list[Problem]]:
    """Return the traces of a table, one for each receiver and ride that it names.

    Columns are found by name (`ALIASES`, capitals do not matter), parted by commas, semicolons or tabs.
    Times are ISO 8601, or seconds (milliseconds from 1e11) since 1970.

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
        No columns of longitude and latitude, or no usable row.
    """
    notes = Notes()
    return _parsed(file, decoded(data, notes), "CSV", notes)


def parse_parquet(file: str, data: bytes) -> tuple[list[Trace], list[Problem]]:
    """Return the traces of a table; columns as for CSV, times also as timestamps.

    The library that knows Parquet believes what a file says of itself: a few changed bytes can ask for
    more memory than there is, or end the process. So it has a process of its own.

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
        No Parquet, too large unpacked, no columns of longitude and latitude, or no usable row; or the library
        that knows the format, an optional one of 170 MB, is not installed.
    """
    if not is_there("pyarrow"):
        rule, remedy = "Parquet needs one more library", how_to_get("pyarrow")
        raise UnreadableFile(Problem(file=file, rule=rule, remedy=remedy))
    command = [sys.executable, "-P", "-m", "trackspread.readers.formats.parquet"]
    try:
        done = subprocess.run(command, input=data, capture_output=True, timeout=LONGEST_PARSE_S, check=False)
    except subprocess.TimeoutExpired:
        raise _refused(file, f"it takes more than {LONGEST_PARSE_S:.0f} s") from None
    except OSError as error:
        raise _refused(file, f"no process can be started: {error.strerror}") from None
    if done.returncode == 0:
        return _parsed(file, done.stdout.decode("utf-8", "replace"), "Parquet", Notes())
    said = done.stderr.decode("utf-8", "replace").strip().rpartition("\n")[2]
    raise _refused(file, said if done.returncode == REFUSED else "it broke down")


def _refused(file: str, why: str) -> UnreadableFile:
    rule = f"the Parquet library refuses the file: {printable(why, 160)}"
    return UnreadableFile(Problem(file=file, rule=rule, remedy="write the table again"))


def _parsed(file: str, text: str, format: str, notes: Notes) -> tuple[list[Trace], list[Problem]]:
    first = text.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(_lines(text), delimiter=delimiter)
    points = Points(notes)
    try:
        columns = find_columns(file, next(reader, []))
        last = max(columns.values())
        for number_, cells in enumerate(reader, 1):
            place = f"row {number_}" if format == "Parquet" else f"line {reader.line_num}"
            check_points(file, number_)
            if len(cells) > last:
                points.take_text({name: cells[at].strip() for name, at in columns.items()}, place)
            elif any(cells):
                points.set_aside += 1
                notes.note("bad row", place)
    except csv.Error as error:
        if not points.lines:
            rule = f"this is no table of comma-separated values: {error}"
            raise UnreadableFile(Problem(file=file, place=f"line {reader.line_num}", rule=rule)) from None
        notes.note("broken off", f"line {reader.line_num} ({error})")
    return points.traces(file, format)


def _lines(text: str) -> Iterator[str]:
    """Yield the lines of a text with their ends, one at a time: a list of all takes many times its memory."""
    end = "\n" if "\n" in text else "\r"
    start = 0
    while start < len(text):
        stop = text.find(end, start) + 1 or len(text)
        yield text[start:stop]
        start = stop


def find_columns(file: str, header: Sequence[str]) -> dict[str, int]:
    """Return the place of each column that is known, by its main name.

    Parameters
    ----------
    file : str
        The file as the user named it.
    header : sequence of str
        Names of the columns.

    Returns
    -------
    dict of str to int
    """
    names = [name.strip().lower() for name in header]
    found = {
        main: names.index(alias)
        for main, aliases in ALIASES.items()
        if (alias := next((alias for alias in aliases if alias in names), ""))
    }
    if "lon" not in found or "lat" not in found:
        rule = "a table of points needs columns lon and lat (and time)"
        shown = printable(", ".join(names))
        raise UnreadableFile(
            Problem(file=file, place="line 1", value=shown, rule=rule, remedy="name the columns")
        )
    return found


@dataclass(slots=True)
class Points:
    """Rows of one table, gathered by receiver and ride."""

    notes: Notes
    lines: list[str] = field(default_factory=list)
    set_aside: int = 0
    _values: list[tuple[float, float, float, float, float]] = field(default_factory=list)
    _group: dict[tuple[str, str], list[int]] = field(default_factory=dict)

    def take_text(self, row: dict[str, str], place: str) -> None:
        """Take a row of texts."""
        lon = degrees(row["lon"], 180.0, self.notes, place)
        lat = degrees(row["lat"], 90.0, self.notes, place)
        height = row.get("elevation", "")
        height = metres(height, self.notes, place) if height else ""
        time_s = self._time_s(row.get("time", ""), place)
        key = (row.get("receiver", ""), row.get("ride", ""))
        self.take(time_s, number(lon), number(lat), number(height), key, place, number(row.get("accuracy")))

    def take(
        self, time_s: float, lon: float, lat: float, height: float, key: tuple[str, str], place: str,
        accuracy_m: float = math.nan,
    ) -> None:  # fmt: skip
        """Take a row of numbers; positions that cannot be are set aside."""
        if not (abs(lon) <= 180.0 and abs(lat) <= 90.0):
            self.notes.note("bad position", place)
            self.set_aside += 1
            return
        self._group.setdefault((printable(key[0], 60), printable(key[1], 60)), []).append(len(self.lines))
        self.lines.append(place)
        self._values.append((time_s, lon, lat, height, accuracy_m))

    def _time_s(self, text: str, place: str) -> float:
        seconds = number(text.replace(",", ".", 1))
        if math.isnan(seconds):
            return utc_seconds(utc_text(text, self.notes, place)) if text else math.nan
        seconds = epoch_seconds(seconds)
        if abs(seconds) > FARTHEST_S:
            self.notes.note("bad time", place)
            return math.nan
        return seconds

    def _place(self, rows: list[int], index: int) -> str:
        return self.lines[rows[index]]

    def traces(self, file: str, format: str) -> tuple[list[Trace], list[Problem]]:
        """Return a trace for each receiver and ride."""
        if not self.lines or len(self._group) > MOST_TRACES:
            rule = f"at least one row with lon and lat, and at most {MOST_TRACES} rides, are needed"
            value = f"{len(self.lines)} rows, {len(self._group)} rides"
            raise UnreadableFile(Problem(file=file, value=value, rule=rule, remedy="check the columns"))
        values = np.array(self._values, dtype=np.float64)
        traces: list[Trace] = []
        for part, ((receiver, ride), rows) in enumerate(self._group.items()):
            time_s, lon_deg, lat_deg, elevation_m, accuracy_m = values[rows].T
            claims = Claims(accuracy_m=accuracy_m) if np.isfinite(accuracy_m).any() else Claims()
            trace = as_trace(
                file=file, format=format, part=part, name="", time_s=time_s, lon_deg=lon_deg, lat_deg=lat_deg,
                elevation_m=elevation_m, break_before=np.zeros(len(rows), dtype=bool), start_s=math.nan,
                receiver=receiver, ride=ride, set_aside=0 if part else self.set_aside,
                notes=Notes() if part else self.notes, place=partial(self._place, rows), claims=claims,
            )  # fmt: skip
            traces += [trace] if trace else []
        if not traces:
            raise UnreadableFile(Problem(file=file, rule="no row has a usable position"))
        return traces, []


def epoch_seconds(value: float) -> float:
    """Return seconds since 1970 of a number that may count milliseconds.

    Parameters
    ----------
    value : float
        Seconds or milliseconds since 1970-01-01 UTC.

    Returns
    -------
    float
    """
    return value / 1000.0 if abs(value) >= MILLISECONDS_ABOVE else value
