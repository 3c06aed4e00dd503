"""Who, when and which: from the table of rides, the folder, the file itself, and overlap in time."""

from __future__ import annotations

import os
from collections.abc import Sequence

import numpy as np

from trackspread.errors import Problem, printable
from trackspread.model import FixSource, Floats, Trace, Witness
from trackspread.readers.read import ReadResult
from trackspread.readers.sheet import Row, Sheet, start_seconds

UNKNOWN = "unknown receiver"
NEAR_M = 1000.0
LEAST_OVERLAP = 0.3


def assign_witnesses(read: ReadResult, sheet: Sheet) -> tuple[tuple[Witness, ...], tuple[Problem, ...]]:
    """Return one witness a trace, and what is wrong with the table's answers.

    In this order: the table of rides, the name of the sub-folder (receiver), the file's own metadata, and
    overlap in time and place (traces recorded at once are one ride). ``receiver_from`` and ``ride_from``
    say which it was.
    """
    folders = _receiver_folders(read)
    traces, answers, problems = [], [], []
    for file in read.files:
        row = sheet.rows.get(file.name)
        for trace in file.traces:
            receiver = _receiver(trace, row, folders.get(file.folder, ""))
            start_s, source, problem = _start(trace, row)
            problems += problem
            traces.append(trace)
            answers.append((row, receiver, start_s, source))
    rides = _rides(traces, [row.ride if row else "" for row, *_ in answers])
    witnesses = []
    for trace, (row, receiver, start_s, source), ride in zip(traces, answers, rides, strict=True):
        witnesses.append(
            Witness(
                trace=trace, receiver=receiver[0], receiver_from=receiver[1], ride=ride[0], ride_from=ride[1],
                start_s=start_s, start_source=source, note=row.note if row else "",
            )
        )  # fmt: skip
    return tuple(witnesses), tuple(problems)


def _receiver_folders(read: ReadResult) -> dict[str, str]:
    """Return the receiver's name by folder, where the traces lie in several folders."""
    folders = sorted({file.folder for file in read.files if file.traces})
    if len(folders) < 2:
        return {}
    common = os.path.commonpath([os.path.abspath(folder) for folder in folders])
    names = {folder: os.path.relpath(os.path.abspath(folder), common) for folder in folders}
    return {
        folder: "" if name == "." else printable(name.split(os.sep)[-1], 60) for folder, name in names.items()
    }


def _receiver(trace: Trace, row: Row | None, folder: str) -> tuple[str, str]:
    if row and row.receiver:
        return row.receiver, "sheet"
    if folder:
        return folder, "folder"
    return (trace.receiver, "file") if trace.receiver else (UNKNOWN, "none")


def _start(trace: Trace, row: Row | None) -> tuple[float, FixSource, list[Problem]]:
    times = trace.time_s[np.isfinite(trace.time_s)]
    problems = []
    if row and row.start_pressed:
        try:
            return start_seconds(row, float(times[0]) if len(times) else float("nan")), "declared", []
        except ValueError as error:
            place, remedy = f"line {row.line}", "correct the cell, or leave it empty"
            problems.append(
                Problem(file=row.sheet, place=place, value=row.start_pressed, rule=str(error), remedy=remedy)
            )
    if np.isfinite(trace.start_s):
        return trace.start_s, "file", problems
    return float("nan"), "none", problems


def _rides(traces: Sequence[Trace], given: list[str]) -> list[tuple[str, str]]:
    """Return the ride of every trace and where the answer comes from.

    Traces that overlap by at least 30 % of the shorter one and lie within a kilometre of each other
    then are one ride; rides are numbered in order of time.
    """
    spans = [_span(trace) for trace in traces]
    leader = list(range(len(traces)))
    order = sorted((i for i, s in enumerate(spans) if s), key=lambda i: spans[i] or (0.0, 0.0))
    for place, i in enumerate(order):
        for j in order[place + 1 :]:
            if (spans[j] or (0, 0))[0] > (spans[i] or (0, 0))[1]:
                break
            if _root(leader, i) != _root(leader, j) and _together(traces[i], traces[j]):
                leader[_root(leader, j)] = _root(leader, i)
    groups: dict[int, list[int]] = {}
    for i in [*order, *(i for i, s in enumerate(spans) if not s)]:
        groups.setdefault(_root(leader, i), []).append(i)
    taken = {trace.ride or ride for trace, ride in zip(traces, given, strict=True)}
    numbers = (str(n) for n in range(1, 10**9) if str(n) not in taken)
    out: dict[int, tuple[str, str]] = {}
    for members in groups.values():
        named = next((given[i] for i in members if given[i]), "")
        name = named or next((traces[i].ride for i in members if traces[i].ride), "") or next(numbers)
        for i in members:
            if given[i]:
                out[i] = given[i], "sheet"
            elif traces[i].ride:
                out[i] = traces[i].ride, "file"
            else:
                out[i] = name, "overlap" if len(members) > 1 else "none"
    return [out[i] for i in range(len(traces))]


def _root(leader: list[int], i: int) -> int:
    while leader[i] != i:
        i = leader[i]
    return i


def _span(trace: Trace) -> tuple[float, float] | None:
    times = trace.time_s[np.isfinite(trace.time_s)]
    return (float(times[0]), float(times[-1])) if len(times) > 1 else None


def _together(a: Trace, b: Trace) -> bool:
    """Return whether two traces were recorded at one time in one place."""
    (start_a, end_a), (start_b, end_b) = _span(a) or (0.0, 0.0), _span(b) or (0.0, 0.0)
    start, end = max(start_a, start_b), min(end_a, end_b)
    if end - start < LEAST_OVERLAP * min(end_a - start_a, end_b - start_b):
        return False
    at = np.linspace(start, end, 9)
    return bool(np.median(np.linalg.norm(_places(a, at) - _places(b, at), axis=1)) < NEAR_M)


def _places(trace: Trace, at_s: Floats) -> Floats:
    """Return places at moments on a sphere, shape (N, 3), metres."""
    known = np.isfinite(trace.time_s)
    lon, lat = np.radians(trace.lon_deg[known]), np.radians(trace.lat_deg[known])
    xyz = 6_371_008.8 * np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])
    return np.stack([np.interp(at_s, trace.time_s[known], axis) for axis in xyz], axis=1)
