"""The table of what was read, one row a trace."""

from __future__ import annotations

import math
from typing import Any

from trackspread.errors import printable
from trackspread.geometry.polyline import cumulative_length
from trackspread.geometry.projection import Grid
from trackspread.model import Trace, Witness
from trackspread.readers.notes import WAITS
from trackspread.results.rounding import kilometres, rounded
from trackspread.web.clock import Clock
from trackspread.web.reading import Reading

_WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
_LOOP_SHARE = 0.05  # of the length, from end to start of a loop


def row_of(key: str, witness: Witness, reading: Reading, clock: Clock) -> dict[str, Any]:
    """Return one row as the page shows it; every text in it is on one line and without control marks.

    Parameters
    ----------
    key : str
        Of the trace, as a table of rides names it.
    witness : Witness
    reading : Reading
        Holds the witness.
    clock : Clock
        Shows the times.

    Returns
    -------
    dict
    """
    trace = witness.trace
    first_s = trace.first_time_s()
    return {
        "key": key,
        "file": trace.file,
        "part": trace.part,
        "format": trace.format,
        "receiver": printable(witness.receiver, 200) if witness.receiver_from != "none" else "",
        "receiver_from": witness.receiver_from,
        "ride": printable(witness.ride, 200),
        "ride_from": witness.ride_from,
        "firmware": printable(witness.firmware, 200),
        **_time("start_pressed", witness.start_s, key, reading, clock),
        "start_pressed_from": witness.start_source,
        **_time("fix_seen", witness.fix_seen_s, key, reading, clock),
        "note": printable(witness.note, 200),
        "way": _way(trace),
        "first_point": clock.local(first_s),
        "first_point_utc": clock.beside(first_s),
        "points": len(trace.lon_deg),
        "findings": [
            {
                "text": printable(finding.text, 300),
                "first_place": printable(finding.first_place),
                "of_note": finding.code not in WAITS,
            }
            for finding in trace.findings
        ],
    }


def _time(column: str, time_s: float, key: str, reading: Reading, clock: Clock) -> dict[str, str]:
    """Return a time of a row: as the zone's clock shows it, in UTC, and what is wrong with it."""
    wrong = reading.wrong.get((key, column), "")
    stated = printable(clock.shown(reading.stated[key][column]), 200)
    local = clock.local(time_s) if math.isfinite(time_s) else ""
    return {
        column: stated if wrong else local,
        f"{column}_utc": "" if wrong else clock.beside(time_s),
        f"{column}_wrong": printable(wrong, 200),
    }


def _way(trace: Trace) -> str:
    """Return how far a trace goes and whither, such as ``4.4 km to the south-west`` or ``2.1 km round``."""
    if len(trace.lon_deg) < 2:
        return "a single point"
    east_m, north_m = Grid.local(trace.lon_deg, trace.lat_deg).forward(trace.lon_deg, trace.lat_deg)
    length_m = float(cumulative_length(east_m, north_m)[-1])
    if not math.isfinite(length_m):
        return "around the globe"
    length = kilometres(rounded(length_m, -1))
    east, north = float(east_m[-1] - east_m[0]), float(north_m[-1] - north_m[0])
    if math.hypot(east, north) <= _LOOP_SHARE * length_m:
        return f"{length} round"
    return f"{length} to the {_WINDS[round(math.atan2(east, north) / (math.pi / 4)) % 8]}"
