"""GPX 1.0 and 1.1 (topografix.com schemas) by gpxpy, the only module that knows it."""

from __future__ import annotations

from datetime import UTC

import gpxpy
import gpxpy.gpx
import numpy as np

from trackspread.errors import Problem, UnreadableFile, printable
from trackspread.model import Trace
from trackspread.readers.clean import as_trace
from trackspread.readers.guard import Guard, decoded
from trackspread.readers.notes import Notes


def parse_gpx(file: str, data: bytes) -> tuple[list[Trace], list[Problem]]:
    """Return the tracks of a GPX file, each a trace; a track without a usable point is a problem.

    Raises
    ------
    UnreadableFile
        The file is no GPX, or holds no track.
    """
    notes = Notes()
    guard = Guard(file, notes)
    guard.read(decoded(data, notes))
    try:
        gpx = gpxpy.parse(guard.clean, version="1.1")
    except (gpxpy.gpx.GPXException, ValueError) as error:
        raise UnreadableFile(
            Problem(file=file, value=str(error), rule="the GPX library refuses the file")
        ) from None
    if not any(guard.places):
        raise UnreadableFile(_nothing(file, guard))
    traces, problems = [], []
    for part, track in enumerate(gpx.tracks):
        trace = _trace(file, part, track, gpx, guard, notes if part == 0 else Notes())
        if trace is None:
            problems.append(
                Problem(file=file, place=f"track {part + 1}", rule="the track has no usable position")
            )
        else:
            traces.append(trace)
    if not traces:
        raise UnreadableFile(_nothing(file, guard))
    return traces, problems


def _nothing(file: str, guard: Guard) -> Problem:
    if guard.other_points:
        rule = "a track with times is needed, and the file holds waypoints or routes only"
    elif sum(guard.set_aside):
        rule = "no point has a usable latitude and longitude"
    else:
        rule = "the file holds no track points (an indoor session, or a recording without a fix)"
    return Problem(file=file, rule=rule, remedy="export the recording as a track")


def _trace(
    file: str, part: int, track: gpxpy.gpx.GPXTrack, gpx: gpxpy.gpx.GPX, guard: Guard, notes: Notes
) -> Trace | None:
    """Return one track as a trace; points without a fix tell when recording began, and go."""
    points = [point for segment in track.segments for point in segment.points]
    places = guard.places[part]
    time_s = np.array([_seconds(point) for point in points], dtype=float)
    searching = np.array([point.type_of_gpx_fix == "none" for point in points], dtype=bool)
    lead = time_s[: int(np.argmin(searching))] if searching.any() else np.empty(0)
    start_s = _start(gpx, lead)
    kept = ~searching
    breaks = np.array([segment for segment, _ in places], dtype=np.int64)
    where = [f"track {part + 1}, segment {segment}, point {point}" for segment, point in places]
    if searching.any():
        notes.note("no fix", where[int(np.argmax(searching))], int(searching.sum()))
    if not kept.any():
        return None
    index = np.flatnonzero(kept)
    segment = breaks[kept]
    return as_trace(
        file=file, format=f"GPX {printable(guard.version, 8)}", part=part, name=track.name or "",
        time_s=time_s[kept],
        lon_deg=np.array([points[i].longitude for i in index], dtype=float),
        lat_deg=np.array([points[i].latitude for i in index], dtype=float),
        elevation_m=np.array([points[i].elevation for i in index], dtype=float),
        break_before=np.diff(segment, prepend=segment[:1]) > 0, start_s=start_s,
        receiver=printable(track.source or guard.creator, 60).strip(), ride="",
        set_aside=guard.set_aside[part] + int(searching.sum()), notes=notes, place=lambda i: where[index[i]],
    )  # fmt: skip


def _seconds(point: gpxpy.gpx.GPXTrackPoint) -> float:
    time = point.time
    if time is None:
        return float("nan")
    return time.timestamp() if time.tzinfo else time.replace(tzinfo=UTC).timestamp()


def _start(gpx: gpxpy.gpx.GPX, lead_s: np.ndarray) -> float:
    """Return when recording began: the first moment without a fix, or the time of the metadata."""
    known = lead_s[np.isfinite(lead_s)]
    if len(known):
        return float(known[0])
    return gpx.time.timestamp() if gpx.time else float("nan")
