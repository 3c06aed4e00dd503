"""Claims of points, the first time of a trace, the size of what was read."""

from __future__ import annotations

import numpy as np

from trackspread.model import Claims, Recordings, Trace


def test_claims_of_some_points_keep_what_is_not_claimed_empty() -> None:
    claims = Claims(accuracy_m=np.array([3.0, 5.0, 8.0]))
    some = claims.at(slice(1, 3))
    assert some.accuracy_m.tolist() == [5.0, 8.0]
    assert len(some.hdop) == len(some.satellites) == 0


def test_the_first_time_is_the_first_that_is_known() -> None:
    none = np.zeros(3)
    trace = Trace(
        file="a.gpx", format="GPX 1.1", time_s=np.array([np.nan, 7.0, 9.0]), lon_deg=none, lat_deg=none,
        elevation_m=none, break_before=none.astype(bool),
    )  # fmt: skip
    assert trace.first_time_s() == 7.0


def test_nothing_read_says_so() -> None:
    assert repr(Recordings(witnesses=())) == "Recordings: 0 traces of 0 watches, 0 problems"
