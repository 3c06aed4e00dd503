"""Clocks that are wrong: by 1,024 weeks, whose number rolled over, or by whole hours on one ride."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trackspread.geometry.crossings import Crossings
from trackspread.geometry.matching import Line
from trackspread.model import Ints, Reason, Trace, Witness
from trackspread.pairs.clock import find_companions
from trackspread.readers.notes import noticed
from trackspread.readers.read import ReadResult

ROLL_OVER_S = 1024 * 7 * 86_400.0
"""The week number of GPS has ten bits (IS-GPS-200, 20.3.3.3.1.1)."""
CAMPAIGN_S = 60 * 86_400.0
"""A recording is of a campaign that one of its others is no farther away from in time."""
WEEK_NUMBER = "week number"


def with_weeks_mended(read: ReadResult) -> ReadResult:
    """Return what was read with the times moved on of traces that stand 1,024 weeks before the others.

    That needs another trace within `CAMPAIGN_S` of where the clock should have stood.

    Parameters
    ----------
    read : ReadResult

    Returns
    -------
    ReadResult
    """
    first = np.array([trace.first_time_s() for trace in read.traces])
    known = first[np.isfinite(first)]
    if len(known) < 2 or np.ptp(known) < ROLL_OVER_S - CAMPAIGN_S:
        return read
    back = (np.abs(first[:, None] + ROLL_OVER_S - known) <= CAMPAIGN_S).any(axis=1).tolist()
    files, at = [], 0
    for file in read.files:
        mine = zip(file.traces, back[at : at + len(file.traces)], strict=True)
        files.append(replace(file, traces=tuple(_moved_on(t) if late else t for t, late in mine)))
        at += len(file.traces)
    return replace(read, files=tuple(files))


def _moved_on(trace: Trace) -> Trace:
    moved = replace(trace, time_s=trace.time_s + ROLL_OVER_S, start_s=trace.start_s + ROLL_OVER_S)
    return noticed(moved, WEEK_NUMBER, len(trace.time_s))


def with_companions(
    used: dict[int, Witness], line: Line, found: Crossings, ride: Ints
) -> tuple[dict[int, Witness], list[Reason]]:
    """Join rides whose clocks are whole hours apart; where the table of rides has it otherwise, only say so.

    Parameters
    ----------
    used : dict of int to Witness
        The N witnesses of a route by their numbers, in the order of the rows of ``found``.
    line : Line
        Centreline of the route, with S stations.
    found : Crossings
        When each trace passed each station; its times have the shape (N, S).
    ride : ndarray, shape (N,)
        Number of the ride of each trace, as it was told or inferred.

    Returns
    -------
    used : dict of int to Witness
        The witnesses with the rides found.
    doubts : list of Reason
        A note for the route where the table of rides has it otherwise.
    """
    numbers = list(used)
    out, parted = dict(used), []
    for a, b, ahead_s in find_companions(line.station_m, found.time_s, ride):
        first, second = used[numbers[a]], used[numbers[b]]
        if first.receiver == second.receiver:
            continue
        if "sheet" in (first.ride_from, second.ride_from):
            parted.append(((first.receiver, first.ride), (second.receiver, second.ride), abs(ahead_s)))
        else:
            name = first.ride or f"with {first.trace.file}"
            out[numbers[a]] = replace(first, ride=name, ride_from="overlap")
            out[numbers[b]] = replace(second, ride=name, ride_from="overlap")
    return out, [Reason.of("ran_alike", pairs=tuple(parted))] if parted else []
