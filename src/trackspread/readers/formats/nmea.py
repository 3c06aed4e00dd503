"""NMEA 0183 logs (sentences GGA and RMC) by pynmea2, the only module that knows it."""

from __future__ import annotations

import io
import math
import re
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import pynmea2

from trackspread.errors import Problem, UnreadableFile
from trackspread.model import Claims, Floats, Trace
from trackspread.readers.clean import as_trace
from trackspread.readers.limits import check_points
from trackspread.readers.notes import Notes
from trackspread.readers.values import number

_SENTENCE = re.compile(r"\$[A-Z]{2}(GGA|RMC|GST),[^$*\r\n]{0,200}(\*[0-9A-Fa-f]{2})?")
_TIME_OF_DAY = re.compile(r"([01]\d|2[0-3])([0-5]\d)([0-5]\d|60)(\.\d+)?")
_FIXED = frozenset("12345")  # GGA: GPS, DGPS, PPS, RTK, float RTK; not estimated, manual, simulated
_NOT_FIXED = frozenset("NEMS")  # RMC mode since NMEA 2.3: none, estimated, manual, simulated
_LEAST_FIELDS = {"GGA": 9, "RMC": 9, "GST": 8}
_CLAIMS = ("accuracy_m", "hdop", "satellites")
_DAY_S = 86_400.0  # s in a day
_LONGEST_SEARCH_S = 12 * 3600.0  # s, half a day, as in GPX


@dataclass(kw_only=True, slots=True)
class _Epoch:
    """What the sentences of one moment say; ``day`` counts from 1970-01-01."""

    line: int
    of_day_s: float
    day: float = math.nan
    lon_deg: float = math.nan
    lat_deg: float = math.nan
    elevation_m: float = math.nan
    accuracy_m: float = math.nan
    hdop: float = math.nan
    satellites: float = math.nan
    fixed: bool = True


def parse_nmea(file: str, data: bytes) -> tuple[list[Trace], list[Problem]]:
    """Return the one trace of a log.

    Sentences with equal times make one point. The day comes from RMC and moves on at midnight; moments
    without a fix before the first point tell when recording began.

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
        No sentence with a position and a fix.
    """
    notes = Notes()
    epochs = _epochs(file, data, notes)
    fixed = [epoch for epoch in epochs if epoch.fixed and not math.isnan(epoch.lon_deg)]
    if not fixed:
        rule = "the log holds no GGA or RMC sentence with a fix and a right checksum"
        raise UnreadableFile(
            Problem(file=file, rule=rule, remedy="check that the watch had a view of the sky")
        )
    time_s = _dated(epochs, notes)
    keep = np.array([epoch.fixed and not math.isnan(epoch.lon_deg) for epoch in epochs])
    lead = time_s[: int(np.argmax(keep))]
    lead = lead[np.isfinite(lead)]
    trace = as_trace(
        file=file, format="NMEA 0183", part=0, name="", time_s=time_s[keep],
        lon_deg=np.array([epoch.lon_deg for epoch in fixed]),
        lat_deg=np.array([epoch.lat_deg for epoch in fixed]),
        elevation_m=np.array([epoch.elevation_m for epoch in fixed]),
        break_before=np.zeros(len(fixed), dtype=bool), start_s=float(lead[0]) if len(lead) else math.nan,
        longest_wait_s=_LONGEST_SEARCH_S, receiver="", ride="", set_aside=len(epochs) - len(fixed),
        notes=notes, place=lambda i: f"line {fixed[i].line}", claims=_claims(fixed),
    )  # fmt: skip
    if trace is None:
        raise UnreadableFile(Problem(file=file, rule="no point has a usable position"))
    return [trace], []


def _claims(epochs: list[_Epoch]) -> Claims:
    columns = {name: np.array([getattr(epoch, name) for epoch in epochs]) for name in _CLAIMS}
    return Claims(**{name: column for name, column in columns.items() if np.isfinite(column).any()})


def _epochs(file: str, data: bytes, notes: Notes) -> list[_Epoch]:
    """Return the moments of a log, in its order."""
    epochs: list[_Epoch] = []
    lines = io.BytesIO(data if b"\n" in data else data.replace(b"\r", b"\n"))
    for number_, line in enumerate(lines, 1):
        for found in _SENTENCE.finditer(line.decode("latin-1")):
            epoch = _sentence(found[0], found[1], number_, notes)
            if epoch is None:
                continue
            if epochs and (epochs[-1].of_day_s == epoch.of_day_s or math.isnan(epoch.of_day_s)):
                _merge(epochs[-1], epoch)
            else:
                epochs.append(epoch)
                check_points(file, len(epochs))
    for epoch in epochs:
        if not epoch.fixed:
            notes.note("no fix", f"line {epoch.line}")
    return epochs


def _merge(epoch: _Epoch, other: _Epoch) -> None:
    if math.isnan(other.of_day_s) and epoch.fixed != other.fixed:
        return
    epoch.fixed = epoch.fixed and other.fixed
    for name in ("day", "lon_deg", "lat_deg", "elevation_m", *_CLAIMS):
        if math.isnan(getattr(epoch, name)):
            setattr(epoch, name, getattr(other, name))


def _sentence(text: str, kind: str, line: int, notes: Notes) -> _Epoch | None:
    """Return what one sentence says, None (and a finding) where it cannot be used."""
    place = f"line {line}"
    if "*" not in text:
        notes.note("bad checksum", place)
        return None
    try:
        said = pynmea2.parse(text, check=True)
        fields = list(said.data)
        if len(fields) < _LEAST_FIELDS[kind]:
            raise ValueError("too few fields")
        fixed = _is_fixed(kind, fields)
        epoch = _Epoch(line=line, of_day_s=_of_day_s(fields[0], place, notes), fixed=fixed)
        if fixed:
            _fill(epoch, kind, said, fields)
    except pynmea2.ChecksumError:
        notes.note("bad checksum", place)
        return None
    except (pynmea2.ParseError, ValueError, IndexError, TypeError, AttributeError):
        notes.note("bad sentence", place)
        return None
    return epoch


def _is_fixed(kind: str, fields: list[str]) -> bool:
    if kind == "GST":
        return True
    if kind == "GGA":
        return fields[5] in _FIXED
    mode = fields[11] if len(fields) > 11 else ""
    return fields[1] == "A" and mode not in _NOT_FIXED


def _fill(epoch: _Epoch, kind: str, said: pynmea2.NMEASentence, fields: list[str]) -> None:
    if kind == "GST":  # standard deviations of latitude and longitude, metres
        epoch.accuracy_m = math.hypot(number(fields[5]), number(fields[6]))
        return
    hemispheres = fields[2] + fields[4] if kind == "GGA" else fields[3] + fields[5]
    lon, lat = float(said.longitude), float(said.latitude)
    if hemispheres not in ("NE", "NW", "SE", "SW") or not (abs(lon) <= 180.0 and abs(lat) <= 90.0):
        raise ValueError("a place that cannot be")
    epoch.lon_deg, epoch.lat_deg = lon, lat
    if kind == "GGA":
        epoch.elevation_m = number(fields[8])
        epoch.satellites, epoch.hdop = number(fields[6]), number(fields[7])
    elif fields[8]:
        day = datetime.strptime(fields[8], "%d%m%y").replace(tzinfo=UTC)
        epoch.day = day.timestamp() // _DAY_S


def _of_day_s(text: str, place: str, notes: Notes) -> float:
    """Return seconds since midnight, ``NaN`` where the field is empty or no time."""
    found = _TIME_OF_DAY.fullmatch(text)
    if found is None:
        if text:
            notes.note("bad time", place)
        return math.nan
    second = int(found[3])
    if second == 60:
        notes.note("leap second", place)
        second = 59
    return 3600.0 * int(found[1]) + 60.0 * int(found[2]) + second + float(found[4] or 0.0)


def _dated(epochs: list[_Epoch], notes: Notes) -> Floats:
    """Return seconds since 1970 of every epoch; midnights are counted from the nearest day that is known."""
    of_day = np.array([epoch.of_day_s for epoch in epochs])
    day = np.array([epoch.day for epoch in epochs])
    known = np.flatnonzero(np.isfinite(day))
    if len(known) == 0:
        notes.note("no date", f"line {epochs[0].line}")
        return np.full(len(epochs), np.nan)
    filled = of_day[np.maximum.accumulate(np.where(np.isfinite(of_day), np.arange(len(of_day)), 0))]
    midnights = np.cumsum(np.diff(filled, prepend=filled[:1]) < -_DAY_S / 2)
    nearest = known[np.clip(np.searchsorted(known, np.arange(len(day)), side="right") - 1, 0, None)]
    time_s: Floats = (day[nearest] + midnights - midnights[nearest]) * _DAY_S + of_day
    return time_s
