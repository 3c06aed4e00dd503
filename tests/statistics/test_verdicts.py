"""The verdict of a segment, at its thresholds and just beyond them, however many traces there are."""

from __future__ import annotations

import numpy as np
import pytest

from trackspread.model import Estimate, Reason
from trackspread.options import Options
from trackspread.results.words.reasons import said
from trackspread.statistics.verdicts import Astray, share_of_rides, verdict_of

LIMITS = Options(steady_m=3.0, torn_m=6.0, min_traces=3, steady_share=0.05, torn_share=0.2)
NONE = Astray()


def spread(value: float) -> Estimate:
    return Estimate(value=value, low=value / 2, high=2 * value)


@pytest.mark.parametrize(
    ("value", "verdict", "why"),
    [
        (2.0, "steady", "spread 2.0 m, at most 3 m"),
        (3.0, "steady", "spread 3.0 m, at most 3 m"),
        (3.002, "wavering", "spread 3.002 m, above 3 m"),
        (3.04, "wavering", "spread 3.04 m, above 3 m"),
        (3.06, "wavering", "spread 3.1 m, above 3 m"),
        (6.0, "wavering", "spread 6.0 m, above 3 m"),
        (6.06, "torn", "spread 6.1 m, above 6 m"),
    ],
)
def test_a_spread_counts_up_to_its_threshold_and_never_reads_as_on_the_other_side(
    value: float, verdict: str, why: str
) -> None:
    """Once it said "spread 3.0 m, above 3 m"."""
    found, (told,) = verdict_of(3, spread(value), NONE, LIMITS)
    assert found == verdict
    assert said(told) == f"{why} (interval {value / 2:.1f} to {2 * value:.1f} m)"
    assert verdict_of(3, Estimate(value=value), NONE, LIMITS)[0] == verdict


def test_too_few_traces_or_no_spread_are_thin_whatever_else_is_there() -> None:
    far = Astray(some=1.0, far=1.0)
    assert verdict_of(2, spread(9.0), far, LIMITS) == ("thin", (Reason.of("few_traces", traces=2, needed=3),))
    assert verdict_of(4, Estimate(reason=Reason("no_figure")), NONE, LIMITS)[0] == "thin"
    assert verdict_of(2, spread(1.0), NONE, Options(min_traces=2))[0] == "steady"


@pytest.mark.parametrize("traces", [4, 10, 12, 143])
def test_the_share_of_rides_decides_and_not_how_many_there_are(traces: int) -> None:
    """One stray of ten tore a segment, of twelve it did not, and of 143 no segment was steady."""
    told = {
        share: verdict_of(traces, spread(1.0), Astray(some=share, far=share), LIMITS)[0]
        for share in (0.0, 0.007, 0.05, 0.051, 0.1, 0.199, 0.2, 0.5)
    }
    assert list(told.values()) == ["steady"] * 3 + ["wavering"] * 3 + ["torn"] * 2


def test_a_stretch_of_little_more_than_the_spread_does_not_tear() -> None:
    """An 85 m stretch with a mean of 3.1 m once did: it is no farther off than a wavering spread."""
    verdict, why = verdict_of(4, spread(1.0), Astray(some=0.25, far=0.0, names=("a.gpx",)), LIMITS)
    assert verdict == "wavering"
    assert tuple(map(said, why)) == (
        "25% of the rides are more than 3 m astray (a.gpx); the limit is more than 5%",
    )


def test_all_that_speaks_for_a_verdict_is_said_and_four_names_are_three_and_one_more() -> None:
    astray = Astray(some=0.4, far=0.4, names=("a", "a", "b", "c", "d"))
    verdict, why = verdict_of(20, Estimate(value=7.0), astray, LIMITS)
    assert verdict == "torn"
    assert tuple(map(said, why)) == (
        "40% of the rides are more than 6 m astray (a, b, c and 1 more); the limit is 20% or more",
        "spread 7.0 m, above 6 m",
    )


@pytest.mark.parametrize("many", [1, 3, 10])
def test_a_share_is_of_rides_and_of_the_way(many: int) -> None:
    ride = np.repeat(np.arange(4), many)
    inside = np.zeros((4 * many, 20), dtype=bool)
    inside[:many, :10] = True
    known = np.ones(inside.shape, dtype=bool)
    assert share_of_rides(inside, known, ride) == pytest.approx(0.125)
    known[ride == 3] = False
    assert share_of_rides(inside, known, ride) == pytest.approx(0.5 / 3)
    assert share_of_rides(inside, np.zeros(inside.shape, dtype=bool), ride) == 0.0


def test_one_of_two_watches_astray_is_half_a_ride() -> None:
    inside = np.array([[True], [False], [False]])
    assert share_of_rides(inside, np.ones((3, 1), dtype=bool), np.array([0, 0, 1])) == pytest.approx(0.25)
