"""Name and mend a clock that stands 1,024 weeks back: the week number of the receiver rolled over."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trackspread.model import Trace
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
