"""A recording that was left on over two rides is cut; ferries, tunnels and stops are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from trackspread.model import Trace, Witness
from trackspread.options import Options
from trackspread.pipeline.analyse import analyse
from trackspread.rides.resumed import LATER_RIDE, resumptions, with_rides_apart
from world import simulate
from world.witnesses import as_witnesses

FIELDS = ("lon_deg", "lat_deg", "elevation_m", "break_before")


def ridden(seed: int = 3, rides: int = 5) -> list[Witness]:
    return as_witnesses(simulate("winding", seed=seed, rides=rides, length_m=2000, lights=0))


def after(one: Trace, other: Trace, pause_s: float) -> Trace:
    """Return a recording that goes on with the other's points after a pause."""
    time_s = np.concatenate([one.time_s, other.time_s - other.time_s[0] + one.time_s[-1] + pause_s])
    return replace(
        one, time_s=time_s, **{f: np.concatenate([getattr(one, f), getattr(other, f)]) for f in FIELDS}
    )


def part(one: Trace, keep: slice | np.ndarray) -> Trace:
    return replace(one, **{f: getattr(one, f)[keep] for f in ("time_s", *FIELDS)})


def test_two_rides_of_one_recording_count_as_two() -> None:
    """The second one was lost in silence."""
    w = ridden()
    both = replace(w[3], trace=after(w[3].trace, w[4].trace, 3600.0))
    found = analyse([*w[:3], both], Options())
    (route,) = found.routes
    assert [t.file[-2:] for t in route.traces[3:]] == ["#1", "#2"]
    assert min(t.coverage for t in route.traces) > 0.95
    assert len({t.ride for t in route.traces}) == 5
    assert [f.code for f in found.inputs[3].findings] == ["resumed"]
    assert np.isfinite(route.traces[3].first_fix.value_s)
    assert np.isnan(route.traces[4].first_fix.value_s)
    assert route.traces[4].first_fix.reason.code == LATER_RIDE


def test_it_is_cut_where_the_second_ride_begins() -> None:
    one, other = (w.trace for w in ridden()[:2])
    assert resumptions(after(one, other, 3600.0), 40.0).tolist() == [len(one.time_s)]
    twice = after(after(one, other, 3600.0), one, 3600.0)
    assert resumptions(twice, 40.0).tolist() == [len(one.time_s), len(one.time_s) + len(other.time_s)]


def test_without_times_an_interruption_counts() -> None:
    one, other = (replace(w.trace, time_s=np.full(len(w.trace.time_s), np.nan)) for w in ridden()[:2])
    both = after(one, other, 0.0)
    assert len(resumptions(both, 40.0)) == 0
    both.break_before[len(one.time_s)] = True
    assert len(resumptions(both, 40.0)) == 1


@pytest.mark.parametrize("pause_s", [60.0, 3600.0])
def test_a_ferry_goes_on_to_new_ground(pause_s: float) -> None:
    w = ridden()[0]
    n = len(w.trace.time_s)
    crossed = after(part(w.trace, slice(0, n // 3)), part(w.trace, slice(2 * n // 3, n)), pause_s)
    assert len(resumptions(crossed, 40.0)) == 0
    assert with_rides_apart([replace(w, trace=crossed)], 40.0)[0].trace is crossed


def test_a_stop_and_the_way_back_without_a_leap_stay_one_recording() -> None:
    w = ridden()[0]
    back = part(w.trace, np.arange(len(w.trace.time_s))[::-1])
    back = replace(back, time_s=back.time_s[::-1])
    assert len(resumptions(after(w.trace, back, 3600.0), 40.0)) == 0
