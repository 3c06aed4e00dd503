"""First fix and settled fix: never a number without a start, never a ride dropped."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trackspread.model import NOTHING, FirstFix, FixSource, Reason, SettledFix
from trackspread.options import Options
from trackspread.results.words.reasons import said
from trackspread.statistics.first_fix import (
    ALREADY_THERE,
    NO_START,
    NO_TIMES,
    first_fix,
    median_fix,
    settled_fix,
)

STATION_M = 5.0 * np.arange(201)
NAN = float("nan")
OPTIONS = Options(settle_band=3.0, settle_hold_s=30.0)
START_S = 1000.0


def times(*speeds_m_s: float) -> np.ndarray:
    """Return when traces of constant speed cross each station, shape (T, S)."""
    return START_S + np.array([STATION_M / speed for speed in speeds_m_s])


def fix(
    first_s: float = 1012.0, start_s: float = START_S, source: FixSource = "declared", at_m: float = 60.0
) -> FirstFix:
    return first_fix(0, first_s, start_s, source, at_m, STATION_M, times(5.0, 4.0, 5.0, 8.0))


# --- first fix ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("source", ["declared", "file"])
def test_the_first_fix_is_the_first_position_less_the_start(source: FixSource) -> None:
    found = fix(source=source)
    assert (found.value_s, found.source, found.at_station_m, found.missing_m) == (12.0, source, 60.0, 60.0)
    assert found.reason == NOTHING


@pytest.mark.parametrize(
    ("first_s", "start_s", "source", "reason"),
    [
        (1012.0, NAN, "declared", NO_START),
        (1012.0, 1000.0, "none", NO_START),
        (999.9, 1000.0, "declared", NO_START),
        (NAN, 1000.0, "declared", NO_TIMES),
        (NAN, NAN, "none", NO_TIMES),
    ],
)
def test_without_a_start_there_is_no_number(
    first_s: float, start_s: float, source: FixSource, reason: Reason
) -> None:
    found = fix(first_s, start_s, source)
    assert math.isnan(found.value_s)
    assert (found.source, found.reason) == ("none", reason)
    assert found.missing_m == 60.0
    assert found.at_station_m == 60.0


@given(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.sampled_from(["declared", "file", "none"]))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_a_first_fix_is_never_negative_and_never_out_of_thin_air(
    first_s: float, start_s: float, source: FixSource
) -> None:
    found = fix(first_s, start_s, source)
    if source == "none" or first_s < start_s:
        assert math.isnan(found.value_s)
        assert found.reason
    else:
        assert found.value_s == first_s - start_s >= 0


def test_a_fix_at_the_very_start_takes_no_time_but_says_so_by_a_source() -> None:
    assert fix(START_S).value_s == 0.0
    assert fix(START_S).source == "declared"


def test_what_is_missing_tells_how_long_it_took_at_least() -> None:
    """60 m take the others 15, 12 and 7.5 s: the median of those is a lower bound."""
    assert fix(source="none").lower_bound_s == 12.0
    assert fix().lower_bound_s == 12.0
    assert fix(at_m=0.0).lower_bound_s == 0.0
    assert fix(at_m=-3.0).lower_bound_s == 0.0
    assert fix(at_m=0.5).lower_bound_s == 1.0  # the next station: 5 m
    assert fix(at_m=-3.0).missing_m == 0.0
    assert math.isnan(fix(at_m=NAN).lower_bound_s)
    assert math.isnan(fix(at_m=NAN).missing_m)
    assert math.isnan(fix(NAN).lower_bound_s)


def test_the_bound_is_that_of_the_others_who_were_there_from_the_start() -> None:
    crossing = times(5.0, 4.0, 5.0, 8.0)
    crossing[1, :4] = np.nan
    found = first_fix(0, 1012.0, NAN, "none", 60.0, STATION_M, crossing)
    assert found.lower_bound_s == pytest.approx((12.0 + 7.5) / 2)
    crossing[1:, 0] = np.nan
    assert math.isnan(first_fix(0, 1012.0, NAN, "none", 60.0, STATION_M, crossing).lower_bound_s)


def test_own_times_do_not_enter_the_bound_and_the_end_of_the_route_is_the_most() -> None:
    crossing = times(1.0, 5.0, 5.0)
    found = first_fix(0, 1012.0, NAN, "none", 60.0, STATION_M, crossing)
    assert found.lower_bound_s == 12.0
    beyond = first_fix(1, 1012.0, NAN, "none", 5000.0, STATION_M, times(5.0, 1.0, 5.0))
    assert beyond.lower_bound_s == 200.0


# --- settled fix -------------------------------------------------------------------------------------


def settled(
    deviation_m: np.ndarray,
    *,
    first: FirstFix | None = None,
    allowed_m: float | np.ndarray = 6.0,
    away: np.ndarray | None = None,
    time_s: np.ndarray | None = None,
    options: Options = OPTIONS,
) -> tuple[SettledFix, int]:
    first = first or fix(1001.0, at_m=0.0)
    return settled_fix(
        first,
        1001.0,
        START_S if np.isfinite(first.value_s) else NAN,
        STATION_M,
        times(5.0)[0] if time_s is None else time_s,
        deviation_m,
        np.broadcast_to(np.asarray(allowed_m, float), STATION_M.shape),
        np.zeros(len(STATION_M), bool) if away is None else away,
        options,
    )


def outside(first: int, last: int, by_m: float = 20.0) -> np.ndarray:
    out = np.zeros(len(STATION_M))
    out[first : last + 1] = by_m
    return out


def test_a_trace_that_keeps_within_the_band_settled_at_its_first_position() -> None:
    found, stations = settled(np.zeros(len(STATION_M)))
    assert (found.value_s, found.at_station_m, found.censored, found.reason) == (1.0, 0.0, False, NOTHING)
    assert (found.band_m, found.hold_s) == (6.0, 30.0)
    assert stations == 0


@pytest.mark.parametrize("by_m", [20.0, -20.0, 6.01])
def test_the_first_moment_after_the_last_excursion_counts(by_m: float) -> None:
    """Off until station 40 (200 m, 40 s at 5 m/s): settled at the next, 205 m, 41 s after the start."""
    found, stations = settled(outside(0, 40, by_m))
    assert (found.value_s, found.at_station_m, stations) == (41.0, 205.0, 41)
    assert not found.censored


def test_an_offset_on_the_band_is_within() -> None:
    assert settled(outside(0, 40, 6.0))[1] == 0


@pytest.mark.parametrize(("again_at", "holds"), [(71, False), (72, True)])
def test_the_hold_is_a_time(again_at: int, holds: bool) -> None:
    """From station 41 (41 s) to 71 (71 s) are 30 s: an excursion at 71 breaks them, one at 72 does not."""
    found, stations = settled(outside(0, 40) + outside(again_at, again_at + 3))
    assert stations == (41 if holds else again_at + 4)
    assert found.value_s == stations


def test_a_slow_rider_holds_over_less_way() -> None:
    slow = START_S + STATION_M / 1.0
    found, stations = settled(outside(0, 40) + outside(48, 50), time_s=slow)
    assert stations == 41
    assert found.value_s == 205.0


def test_never_settled_is_censored_and_nothing_of_it_counts() -> None:
    found, stations = settled(np.full(len(STATION_M), 20.0))
    assert found.censored
    assert np.isnan([found.value_s, found.at_station_m]).all()
    assert found.band_m == 6.0
    assert said(found.reason) == "never within 6.0 m for 30 s"
    assert stations == len(STATION_M)
    late, _ = settled(outside(0, 175))  # 25 s are left
    assert late.censored
    in_time, _ = settled(outside(0, 169))
    assert not in_time.censored


def test_a_station_passed_out_of_reach_is_outside_and_one_without_data_does_not_count() -> None:
    away = np.zeros(len(STATION_M), bool)
    away[:30] = True
    deviation = np.zeros(len(STATION_M))
    deviation[:30] = np.nan
    assert settled(deviation, away=away)[1] == 30
    assert settled(deviation)[1] == 0
    missing = outside(0, 20)
    missing[30:36] = np.nan
    assert settled(missing)[1] == 21


def test_stations_without_others_to_judge_by_do_not_count() -> None:
    """Who began before the others did was settled only where they came in."""
    allowed = np.full(len(STATION_M), 6.0)
    allowed[:60] = np.nan
    found, stations = settled_fix(
        fix(), 1012.0, START_S, STATION_M, times(5.0)[0], np.zeros(len(STATION_M)), allowed,
        np.zeros(len(STATION_M), bool), OPTIONS,
    )  # fmt: skip
    assert (found.value_s, stations) == (12.0, 0)


def test_a_trace_that_is_beside_the_others_too_briefly_says_nothing() -> None:
    """On a lane of 115 m every ride had "never settled"."""
    deviation = np.full(len(STATION_M), np.nan)
    deviation[:25] = 1.0
    found, stations = settled(deviation)
    assert stations == 0
    assert not found.censored
    assert "24 s only" in said(found.reason)


def test_a_trace_that_begins_within_the_band_begins_settled_wherever_that_is() -> None:
    deviation = np.zeros(len(STATION_M))
    deviation[:50] = np.nan
    first = fix(1050.0, at_m=247.0)
    found, stations = settled_fix(
        first,
        1050.0,
        START_S,
        STATION_M,
        times(5.0)[0],
        deviation,
        np.full(201, 6.0),
        np.zeros(201, bool),
        OPTIONS,
    )
    assert (found.value_s, found.at_station_m, stations) == (50.0, 247.0, 0)


def test_without_a_start_the_place_is_known_and_the_time_is_not() -> None:
    found, stations = settled(outside(0, 40), first=fix(1001.0, source="none", at_m=0.0))
    assert math.isnan(found.value_s)
    assert (found.at_station_m, stations, found.censored) == (205.0, 41, False)
    assert found.reason == NO_START


def test_what_cannot_be_judged_says_why() -> None:
    nothing, stations = settled(np.full(len(STATION_M), np.nan))
    assert (nothing.reason, stations) == (
        Reason("no_others_to_settle_on"),
        0,
    )
    assert np.isnan([nothing.value_s, nothing.at_station_m]).all()
    assert not nothing.censored
    assert nothing.band_m == 6.0
    never, stations = settled_fix(
        fix(1050.0),
        1050.0,
        START_S,
        STATION_M,
        np.full(201, NAN),
        np.full(201, NAN),
        np.full(201, 6.0),
        np.zeros(201, bool),
        replace(OPTIONS, reach_m=45.0),
    )
    assert said(never.reason) == "the trace never comes within 45 m of the line"
    assert (stations, never.censored) == (0, False)
    untimed_there, _ = settled_fix(
        fix(1050.0),
        1050.0,
        START_S,
        STATION_M,
        np.full(201, NAN),
        np.zeros(201),
        np.full(201, 6.0),
        np.zeros(201, bool),
        OPTIONS,
    )
    assert untimed_there.reason == NO_TIMES
    no_scale, _ = settled(np.zeros(len(STATION_M)), allowed_m=np.nan)
    assert said(no_scale.reason) == "fewer than two other rides to settle on"
    assert math.isnan(no_scale.band_m)
    untimed, stations = settled_fix(
        fix(NAN),
        NAN,
        NAN,
        STATION_M,
        np.full(201, NAN),
        np.zeros(201),
        np.full(201, 6.0),
        np.zeros(201, bool),
        OPTIONS,
    )
    assert (untimed.reason, stations, untimed.censored) == (NO_TIMES, 0, False)
    assert untimed.band_m == 6.0


def test_the_band_may_change_along_the_way_and_the_hold_is_an_option() -> None:
    allowed = np.where(np.arange(201) < 100, 9.0, 3.0)
    found, stations = settled(outside(0, 40, 7.0), allowed_m=allowed)
    assert stations == 0
    assert found.band_m == pytest.approx(np.median(allowed))
    assert settled(outside(110, 140, 7.0), allowed_m=allowed)[1] == 0
    assert settled(outside(0, 40, 7.0) + outside(120, 140, 7.0), allowed_m=allowed[::-1])[1] == 41
    longer, _ = settled(outside(0, 40) + outside(80, 82), options=replace(OPTIONS, settle_hold_s=60.0))
    assert longer.at_station_m == 415.0
    assert longer.hold_s == 60.0


# --- over rides --------------------------------------------------------------------------------------


def test_the_median_over_rides_has_its_exact_interval() -> None:
    found = median_fix([5.0, 3.0, 9.0, 4.0, 30.0, 6.0], 0, 0.95, NOTHING)
    assert (found.median, found.low, found.high, found.n, found.censored) == (5.5, 3.0, 30.0, 6, 0)
    assert found.confidence == pytest.approx(1 - 2 / 2**6)
    assert found.reason == NOTHING


def test_a_ride_that_never_settled_counts_as_longer_than_any() -> None:
    found = median_fix([5.0, 3.0, NAN], 1, 0.95, NOTHING)
    assert (found.median, found.low, found.n, found.censored) == (5.0, 3.0, 3, 1)
    assert math.isnan(found.high)
    assert found.confidence == pytest.approx(0.75)
    assert median_fix([5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0], 0, 0.5, NOTHING).low == 7.0
    most = median_fix([5.0], 2, 0.95, NOTHING)
    assert math.isnan(most.median)
    assert said(most.reason) == "half or more of the rides never settled"


def test_no_ride_gives_no_figure_but_the_reason() -> None:
    found = median_fix([NAN, NAN], 0, 0.95, NO_START)
    assert (found.n, found.reason) == (0, NO_START)
    assert math.isnan(found.median)


def test_a_position_before_the_timer_was_there_when_start_was_pressed() -> None:
    found = fix(999.0, 1000.0, "timer")
    assert (found.value_s, found.source, found.reason) == (0.0, "timer", ALREADY_THERE)
    assert fix(1012.0, 1000.0, "timer").value_s == 12.0
    assert fix(1012.0, 1000.0, "timer").reason == NOTHING
