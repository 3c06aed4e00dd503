"""Parts of a file with and without a trace; whole files stand in the tests of each format."""

from __future__ import annotations

import numpy as np
import pytest

from trackspread.errors import Problem, UnreadableFile
from trackspread.model import Trace
from trackspread.readers.parts import usable

NONE = np.zeros(0)
TRACE = Trace(
    file="a.gpx", format="GPX 1.1", time_s=NONE, lon_deg=NONE, lat_deg=NONE, elevation_m=NONE,
    break_before=NONE.astype(bool),
)  # fmt: skip


def nothing() -> Problem:
    return Problem(file="a.gpx", rule="the file holds no track points")


def test_a_part_with_points_and_no_position_is_a_problem_and_an_empty_one_is_none() -> None:
    traces, problems = usable(
        "a.gpx", "track", [(1, None, True), (2, TRACE, True), (3, None, False)], nothing
    )
    assert traces == [TRACE]
    assert [str(problem) for problem in problems] == ["a.gpx, track 1: the track has no usable position"]


def test_a_file_without_a_trace_is_refused() -> None:
    with pytest.raises(UnreadableFile, match="holds no track points"):
        usable("a.gpx", "track", [(1, None, True)], nothing)
