"""A clock 1,024 weeks back (IS-GPS-200, 20.3.3.3.1.1: a week number of ten bits) is named and mended.

Clocks set to other zones (whole hours, ISO 8601 offsets) do not part watches of one ride.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackspread.geometry.crossings import Crossings
from trackspread.geometry.matching import Line
from trackspread.model import Trace, Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.readers.read import FileTraces, ReadResult
from trackspread.results.words.reasons import said
from trackspread.rides.assign import assign_witnesses
from trackspread.rides.clocks import with_companions, with_weeks_mended
from trackspread.rides.sheet.table import Sheet
from world import Receiver, simulate
from world.witnesses import as_witnesses

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


def joined(*late_s: float, receivers: str, ride_from: str = "none") -> tuple[list[str], list[str]]:
    """Return the rides and notes of traces that pass 100 stations in half an hour, each so late."""
    station_m = 50.0 * np.arange(100.0)
    time_s = NOON_S + 18.0 * np.arange(100.0) + np.array(late_s)[:, None]
    none = np.zeros_like(time_s)
    found = Crossings(offset_m=none, time_s=time_s, span_m=none, away=none > 0.0, away_m=none)
    told = {"receiver_from": "file", "ride_from": ride_from, "start_s": NOON_S, "start_source": "none"}
    used = {
        7 + k: Witness(trace=trace(f"{k}.gpx", NOON_S), receiver=name, ride=str(k), **told)
        for k, name in enumerate(receivers)
    }
    line = Line(x=station_m, y=np.zeros(100), station_m=station_m)
    out, doubts = with_companions(used, line, found, np.arange(len(late_s)))
    assert list(out) == list(used)
    return [witness.ride for witness in out.values()], [doubt.code for doubt in doubts]


def test_watches_an_hour_apart_share_a_ride_and_one_watch_never_does() -> None:
    assert joined(0.0, 3602.0, 4e5, receivers="aba") == (["0", "0", "2"], [])
    assert joined(0.0, 3602.0, receivers="aa") == (["0", "1"], [])
    assert joined(0.0, 3602.0, receivers="ab", ride_from="sheet") == (["0", "1"], ["ran_alike"])


def test_rides_that_the_table_parts_and_an_hour_of_a_clock_explains_are_asked_about() -> None:
    """`init` writes what it infers: companions whose clocks are an hour apart as two rides, to be corrected."""
    pair = (Receiver(name="alder"), Receiver(name="birch", clock_offset_s=3600.0))
    told = as_witnesses(simulate("winding", seed=33, rides=3, length_m=1500, receivers=pair))
    parted = [replace(w, ride=f"{w.ride}{w.receiver[0]}", ride_from="sheet") for w in told]
    (route,) = analyse(parted, Options()).routes
    assert route.pairs == ()
    pairs = "; ".join(f"alder on ride {n}a and birch on ride {n}b (1 h apart)" for n in (1, 2, 3))
    (note,) = map(said, route.notes)
    assert note.startswith(f"these ran alike second by second: {pairs}. If each was one ride")
    inferred = [replace(w, ride_from="none") for w in parted]
    (route,) = analyse(inferred, Options()).routes
    assert (route.notes, route.pairs[0].rides) == ((), 3)
