"""A clock 1,024 weeks back (IS-GPS-200, 20.3.3.3.1.1: a week number of ten bits) is named and mended."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackspread.model import Trace
from trackspread.readers.read import FileTraces, ReadResult
from trackspread.rides import Sheet, assign_witnesses
from trackspread.rides.week_number import with_weeks_mended

NOON_S = 1_940_932_800.0  # 2031-07-04T12:00:00Z
WEEKS_S = 7168 * 86_400.0  # 1,024 weeks: from memory also the step of 2019-04-06 to that of 1999-08-21


def trace(file: str, start_s: float, receiver: str = "") -> Trace:
    t = np.arange(600.0)
    return Trace(
        file=file, format="GPX 1.1", time_s=start_s + t, lon_deg=np.full(600, -87.3) + 1e-6 * len(file),
        lat_deg=75.0 + 5e-5 * t, elevation_m=np.full(600, np.nan), break_before=np.zeros(600, dtype=bool),
        start_s=start_s - 8.0, receiver=receiver,
    )  # fmt: skip


def read(*traces: Trace) -> ReadResult:
    files = [FileTraces(name=t.file, path=t.file, below=(), traces=(t,), problems=()) for t in traces]
    return ReadResult(files=tuple(files), sheets=(), problems=())


def test_it_is_named_and_its_times_are_those_of_the_others() -> None:
    back = trace("b.gpx", NOON_S - WEEKS_S)
    mended = with_weeks_mended(read(trace("a.gpx", NOON_S), back, trace("c.gpx", NOON_S + 86_400.0)))
    found = mended.traces[1]
    assert [finding.code for finding in found.findings] == ["week number"]
    assert "1,024 weeks back" in found.findings[0].text
    assert found.time_s[0] == NOON_S
    assert found.start_s == NOON_S - 8.0
    assert not mended.traces[0].findings


@pytest.mark.parametrize("start_s", [NOON_S - WEEKS_S - 100 * 86_400.0, NOON_S - 1000 * 86_400.0, np.nan])
def test_an_old_ride_stays_as_it_is(start_s: float) -> None:
    every = read(trace("a.gpx", NOON_S), trace("b.gpx", start_s))
    assert with_weeks_mended(every) is every or not with_weeks_mended(every).traces[1].findings


def test_a_watch_with_such_a_clock_is_still_a_companion() -> None:
    both = read(
        trace("alder.gpx", NOON_S, "alder"),
        trace("birch.gpx", NOON_S + 3.0 - WEEKS_S, "birch"),
        trace("third.gpx", NOON_S + 86_400.0, "alder"),
    )
    witnesses, _ = assign_witnesses(both, Sheet(rows={}))
    assert witnesses[0].ride == witnesses[1].ride != witnesses[2].ride
    assert replace(witnesses[1].trace).findings[0].code == "week number"
