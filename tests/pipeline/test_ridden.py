"""What each receiver rode: its rides by name, and its figures beside those of others on the same ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from records import make_analysis
from trackspread.pipeline.ridden import is_shared, name_of_ride, ridden

ROUTE = make_analysis(routes=1).routes[0]


def test_a_trace_without_a_ride_is_a_ride_of_its_own_that_none_shares() -> None:
    alone, other = (replace(trace, ride="") for trace in ROUTE.traces[:2])
    assert name_of_ride(ROUTE.traces[0]) == ROUTE.traces[0].ride
    assert name_of_ride(alone) != name_of_ride(other)
    assert not is_shared(name_of_ride(alone))
    assert is_shared(name_of_ride(ROUTE.traces[0]))


def test_rows_of_a_receiver_are_its_traces_in_the_order_of_the_rides_asked_for() -> None:
    (table,) = ridden([ROUTE])
    receiver = ROUTE.traces[0].receiver
    rides = table.rides(receiver)
    assert sorted(rides) == sorted({trace.ride for trace in ROUTE.traces if trace.receiver == receiver})
    rows = table.stack(ROUTE.offset_m, receiver, rides)
    for ride, row in zip(rides, rows, strict=True):
        (number,) = (t.number for t in ROUTE.traces if (t.receiver, t.ride) == (receiver, ride))
        known = np.isfinite(row)
        assert np.array_equal(row[known], ROUTE.offset_m[number][known])
