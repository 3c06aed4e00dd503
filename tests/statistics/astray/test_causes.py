"""Causes: what a companion, a gap, and the time that a way took bear witness of."""

from __future__ import annotations

import numpy as np
import pytest

from trackspread.statistics.astray.causes import with_causes
from trackspread.statistics.astray.stretches import Run

STEP_M = 5.0
SIZE = 800
NOWHERE = np.zeros((4, SIZE), bool)
RIDE = np.array([0, 0, 1, 2])
FAULT = Run(trace=0, first=200, last=240, side=1)


def cause_of(
    deviation: np.ndarray, broken: np.ndarray = NOWHERE, run: Run = FAULT, ride: np.ndarray = RIDE
) -> str:
    (told,) = with_causes([run], deviation, ride, broken, STEP_M)
    assert (told.trace, told.first, told.last, told.side) == (run.trace, run.first, run.last, run.side)
    return told.cause


def faulty(companion: float, own: float = 10.0) -> np.ndarray:
    deviation = np.zeros((4, SIZE))
    deviation[0, 200:241], deviation[1, 200:241] = own, companion
    return deviation


@pytest.mark.parametrize(
    ("companion", "cause"),
    [(9.0, "line"), (5.0, "line"), (4.9, "receiver"), (0.0, "receiver"), (-10.0, "receiver")],
)
def test_a_companion_tells_the_rider_s_line_from_the_receiver(companion: float, cause: str) -> None:
    assert cause_of(faulty(companion)) == cause
    mirrored = Run(trace=0, first=200, last=240, side=-1)
    assert cause_of(-faulty(companion), run=mirrored) == cause


@pytest.mark.parametrize("nearby", ["before", "after"])
def test_companions_that_tear_apart_nearby_are_no_evidence_where_they_happen_to_agree(nearby: str) -> None:
    """Walls on both sides, two receivers each for itself: on one side by luck, for the length of one error."""
    deviation = faulty(9.0)
    part = slice(190, 200) if nearby == "before" else slice(241, 253)
    deviation[1, part] = 10.0
    assert cause_of(deviation) == "unknown"
    deviation[1, part] = np.nan
    assert cause_of(deviation) == "line", "where the companion logged nothing it says nothing"
    deviation[1, part] = 4.0
    assert cause_of(deviation) == "line"


def test_what_companions_share_beside_a_run_parts_them_no_more_than_in_it() -> None:
    """Both lie 8 m to one side before and after, as errors that all receivers of a ride share do."""
    deviation = faulty(19.0, own=20.0)
    for trace in (0, 1):
        deviation[trace, 150:200] = deviation[trace, 241:290] = 8.0
    assert cause_of(deviation) == "line"


@pytest.mark.parametrize("torn", [1, 2])
def test_every_companion_must_run_with_the_trace_nearby(torn: int) -> None:
    deviation = faulty(9.0)
    deviation[2] = deviation[1]
    deviation[torn, 190:200] = 10.0
    assert cause_of(deviation, ride=np.array([0, 0, 0, 2])) == "unknown"


def test_what_lies_farther_from_a_run_than_an_edge_is_no_evidence() -> None:
    """Edges reach 60 m: stations 188 to 199 and 241 to 252, their mean against half of 10 m."""
    for stations in (slice(150, 188), slice(253, 300), slice(197, 203)):
        deviation = faulty(9.0)
        deviation[1, stations] = 15.0
        assert cause_of(deviation) == "line"


def test_one_companion_that_did_not_go_there_is_enough() -> None:
    deviation = faulty(10.0)
    assert cause_of(deviation, ride=np.array([0, 0, 0, 2])) == "receiver"
    deviation[2] = deviation[1]
    assert cause_of(deviation, ride=np.array([0, 0, 0, 2])) == "line"


def test_a_companion_that_logged_little_there_is_no_witness() -> None:
    deviation = faulty(10.0)
    deviation[1, 200:221] = np.nan
    assert cause_of(deviation) == "unknown"
    deviation[1, 220] = 10.0
    assert cause_of(deviation) == "line"
    even = Run(trace=0, first=200, last=239, side=1)
    deviation[1, 200:220], deviation[1, 220:240] = np.nan, 10.0
    assert cause_of(deviation, run=even) == "line"


def test_another_ride_is_no_companion() -> None:
    assert cause_of(faulty(10.0), ride=np.array([0, 1, 2, 3])) == "unknown"


@pytest.mark.parametrize(("ends_at", "cause"), [(188, "after a gap"), (200, "after a gap"), (187, "unknown")])
def test_a_gap_just_before_is_named_where_nobody_else_can_tell(ends_at: int, cause: str) -> None:
    broken = NOWHERE.copy()
    broken[0, ends_at - 20 : ends_at + 1] = True
    alone = np.array([0, 1, 2, 3])
    assert cause_of(faulty(0.0), broken, ride=alone) == cause
    assert cause_of(faulty(0.0), broken) == "receiver"
    other = NOWHERE.copy()
    other[2, 180:200] = True
    assert cause_of(faulty(0.0), other, ride=alone) == "unknown"


def test_a_gap_at_the_very_start_or_at_the_first_station_is_named() -> None:
    alone = np.array([0, 1, 2, 3])
    broken = NOWHERE.copy()
    broken[0, 0] = True
    early = Run(trace=0, first=8, last=30, side=1)
    deviation = np.zeros((4, SIZE))
    deviation[0, 8:31] = 10.0
    assert cause_of(deviation, broken, early, alone) == "after a gap"
    broken = NOWHERE.copy()
    broken[0, 200] = True
    assert cause_of(faulty(0.0), broken, ride=alone) == "after a gap"


def test_a_gap_after_the_run_is_no_cause() -> None:
    broken = NOWHERE.copy()
    broken[0, 201:260] = True
    assert cause_of(faulty(0.0), broken, ride=np.array([0, 1, 2, 3])) == "unknown"


def test_who_took_the_time_that_his_way_takes_went_there_himself() -> None:
    """A companion knows better, and a gap says nothing against it."""
    alone, broken = np.array([0, 1, 2, 3]), NOWHERE.copy()
    broken[0, 190:200] = True
    for ride, cause in ((alone, "line"), (RIDE, "receiver")):
        (told,) = with_causes([FAULT], faulty(0.0), ride, broken, STEP_M, lambda run: run is FAULT)
        assert told.cause == cause
