"""Pairs of receivers from the arrays of a route, awkward input included."""

from __future__ import annotations

import re
import time
from dataclasses import replace

import numpy as np
import pytest

from ridden_together import Campaign, away_m, campaign
from trackspread.model import PairResult
from trackspread.options import Options
from trackspread.pairs.compare import pair_results
from trackspread.pairs.contrasts import beside_others
from trackspread.pairs.log_ratio import shared_moments
from trackspread.pairs.own_errors import OwnErrors, own_errors
from trackspread.results.words.reasons import said


def pairs(made: Campaign, length_m: float = 400.0, away: np.ndarray | None = None) -> tuple[PairResult, ...]:
    return pair_results(
        made.station_m, made.offset_m, away_m(made) if away is None else away, made.crossing_s, made.in_stretch, made.receivers,
        made.rides, Options(), length_m,
    )  # fmt: skip


def without(made: Campaign, drop: list[int]) -> Campaign:
    keep = [i for i in range(len(made.receivers)) if i not in drop]
    return replace(
        made, offset_m=made.offset_m[keep], crossing_s=made.crossing_s[keep],
        in_stretch=made.in_stretch[keep],
        receivers=tuple(made.receivers[i] for i in keep), rides=tuple(made.rides[i] for i in keep),
    )  # fmt: skip


def test_two_receivers_on_five_rides() -> None:
    made = campaign(1, taus=((60.0, 1.0),), clocks_s=(3600.0, 0.0))
    (found,) = pairs(made)
    assert (found.a, found.b, found.rides, found.ride_names) == ("a", "b", 5, ("1", "2", "3", "4", "5"))
    assert found.sd_a.value == pytest.approx(2.0, rel=0.4)
    assert found.sd_b.value == pytest.approx(4.0, rel=0.25)
    assert found.told_apart
    assert found.difference.high < 0.0
    assert found.separation_across_m.shape == found.separation_along_m.shape == (5, len(made.station_m))
    assert found.separation_across_m[2] == pytest.approx(made.offset_m[4] - made.offset_m[5])
    assert found.limits_m[0] < found.bias_m.value < found.limits_m[1]
    assert said(found.outcome).startswith("Over 5 shared rides a was more consistent than b (SD ")
    assert "The clock of a is 1 h ahead of that of b" in said(found.outcome)


@pytest.mark.parametrize("rides", [2, 5])
def test_figures_are_those_of_the_two_receivers_themselves(rides: int) -> None:
    """Bias = mean of a - b; own errors with the rider's line left to cancel; limits around the bias."""
    made = campaign(21, rides=rides, taus=((60.0, 1.0),))
    made.offset_m[0::2] += 3.0
    (found,) = pairs(made)
    (a, b), away = (made.offset_m[0::2], made.offset_m[1::2]), away_m(made)
    lengths = np.ptp(made.station_m) / 400.0
    sds = [beside_others([shared_moments(away[k::2], away[1 - k :: 2])], lengths, 0.95) for k in (0, 1)]
    own = own_errors(away[0::2], away[1::2], (sds[0], sds[1]), rides - 1, lengths, 0.95)
    assert isinstance(own, OwnErrors)
    assert (found.sd_a, found.sd_b, found.common_sd_m) == (own.sd_a, own.sd_b, own.common)
    assert (found.difference, found.told_apart) == (own.difference, own.told_apart)
    assert found.bias_m.value == pytest.approx(np.mean(a - b))
    right = f" On average a plots {found.bias_m.value:.1f} m "
    assert (right in said(found.outcome)) == (found.bias_m.low > 0.0) == (rides == 5)
    assert np.mean(found.limits_m) == pytest.approx(np.mean(a - b), abs=0.05)


def test_the_sd_of_a_receiver_is_the_same_beside_whomever_it_is_set() -> None:
    made = campaign(22, sigmas_m=(2.0, 4.0, 1.0), taus=((60.0, 1.0),))
    ab, ac, bc = pairs(made)
    assert (ab.sd_a, ab.sd_b, ac.sd_b) == (ac.sd_a, bc.sd_a, bc.sd_b)
    assert pairs(without(made, [k for k in range(15) if k % 3 == 2]))[0].sd_a != ab.sd_a


def test_a_bend_parts_what_points_one_way_on_the_earth() -> None:
    """Out and back: errors due east are alike on each leg and cancel in the bias of both."""
    made = campaign(23, rides=4, length_m=5000.0)
    rng = np.random.default_rng(0)
    heading = np.where(made.station_m < 2500.0, 0.0, np.pi)
    made.offset_m[:] = rng.normal(0.0, 3.0, (8, 1)) * np.cos(heading) + rng.normal(
        0.0, 0.3, made.offset_m.shape
    )
    (with_heading,) = pair_results(
        made.station_m, made.offset_m, away_m(made), made.crossing_s, made.in_stretch, made.receivers,
        made.rides, Options(), 1500.0, heading,
    )  # fmt: skip
    (without_heading,) = pairs(made)
    widths = [found.bias_m.high - found.bias_m.low for found in (with_heading, without_heading)]
    assert widths[0] < 0.7 * widths[1]


def test_separation_is_what_both_err_by() -> None:
    """sqrt(2^2 + 4^2) = 4.47 m on each axis: a Rayleigh median of 5.27 m, 95 % within 10.9 m (tables)."""
    made = [pairs(campaign(seed, taus=((60.0, 1.0),)))[0] for seed in range(5)]
    assert np.mean([p.separation_median_m for p in made]) == pytest.approx(5.27, rel=0.12)
    assert np.mean([p.separation_p95_m for p in made]) == pytest.approx(10.95, rel=0.15)


def test_equal_receivers_are_told_so_with_what_would_settle_it() -> None:
    found = next(
        p for seed in range(40) for p in pairs(campaign(seed, sigmas_m=(3.0, 3.3))) if not p.told_apart
    )
    assert "no detectable difference between a and b" in said(found.outcome)
    assert "400 m" in said(found.outcome)
    assert (
        "would settle it" in said(found.outcome)
        or "limited information." in said(found.outcome)
        or "More than" in said(found.outcome)
    )


def test_three_receivers_make_three_pairs() -> None:
    found = pairs(campaign(3, sigmas_m=(2.0, 4.0, 3.0), taus=((60.0, 1.0),)))
    assert [(p.a, p.b) for p in found] == [("a", "b"), ("a", "c"), ("b", "c")]
    assert found[0].sd_a.value == pytest.approx(2.0, rel=0.4)
    assert found[2].sd_b.value == pytest.approx(3.0, rel=0.4)


def test_many_receivers_and_rides_of_their_own_cost_nothing() -> None:
    """2000 traces, each with a receiver and a ride of its own, but for one pair."""
    count, size = 2000, 1000
    rng = np.random.default_rng(0)
    offset = rng.normal(0.0, 1.0, (count, size))
    names = tuple(f"r{i}" for i in range(count))
    rides = ("0", "0", *(str(i) for i in range(count - 2)))
    made = Campaign(
        station_m=5.0 * np.arange(size), offset_m=offset, crossing_s=np.full(offset.shape, np.nan),
        in_stretch=np.zeros(offset.shape, bool), receivers=names, rides=rides,
    )  # fmt: skip
    began = time.monotonic()
    assert [(p.a, p.b, p.rides) for p in pairs(made, away=offset)] == [
        ("r0", "r1", 1),
        ("r0", "r2", 1),
        ("r1", "r2", 1),
    ]
    assert time.monotonic() - began < 5.0


def test_receivers_that_share_no_ride_are_no_pair() -> None:
    made = campaign(4, rides=4)
    assert pairs(without(made, [0, 2, 5, 7])) == ()
    assert pairs(replace(made, receivers=("",) * 8)) == ()
    assert pairs(replace(made, rides=("",) * 8)) == ()


def test_receivers_that_never_run_at_one_place() -> None:
    made = campaign(5, rides=3)
    offset, crossing = made.offset_m.copy(), made.crossing_s.copy()
    half = len(made.station_m) // 2
    for array in (offset, crossing):
        array[0::2, half:] = np.nan
        array[1::2, :half] = np.nan
    (found,) = pairs(replace(made, offset_m=offset, crossing_s=crossing))
    for figure in (
        found.sd_a,
        found.sd_b,
        found.common_sd_m,
        found.difference,
        found.bias_m,
        found.clock_offset_s,
    ):
        assert np.isnan(figure.value)
        assert figure.reason
    assert np.isnan(found.separation_median_m)
    assert not found.told_apart
    assert said(found.sd_a.reason) == "the two never pass the same station on one ride"
    assert said(found.sd_a.reason) in said(found.outcome)


def test_one_that_stops_half_way_counts_as_far_as_it_goes() -> None:
    made = campaign(6, taus=((60.0, 1.0),), length_m=8000.0)
    offset, crossing = made.offset_m.copy(), made.crossing_s.copy()
    half = len(made.station_m) // 2
    for array in (offset, crossing):
        array[1::2, half:] = np.nan
    (found,) = pairs(replace(made, offset_m=offset, crossing_s=crossing))
    (whole,) = pairs(made)
    assert found.sd_b.value == pytest.approx(4.0, rel=0.3)
    assert found.sd_b.high - found.sd_b.low > whole.sd_b.high - whole.sd_b.low
    assert np.isnan(found.separation_across_m[:, half:]).all()


def test_a_clock_wrong_by_days_is_said_and_taken_out() -> None:
    (found,) = pairs(campaign(7, clocks_s=(0.0, 86_400.0 * 3)))
    assert found.clock_offset_s.value == pytest.approx(-86_400.0 * 3, abs=1.0)
    assert "The clock of b is 3 days ahead of that of a" in said(found.outcome)
    assert np.nanmedian(np.abs(found.separation_along_m)) < 15.0


def test_clocks_set_between_rides_are_said_and_taken_out() -> None:
    made = campaign(18, rides=4)
    crossing = made.crossing_s.copy()
    crossing[4] += 86_400.0 * 9
    (found,) = pairs(replace(made, crossing_s=crossing, receivers=("Alder", "Birch") * 4))
    assert np.isnan(found.clock_offset_s.value)
    assert "Alder is ahead of Birch by" in said(found.clock_offset_s.reason)
    assert "Alder is ahead of Birch by" in said(found.outcome)
    assert "9 days" in said(found.outcome)
    assert np.nanmedian(np.abs(found.separation_along_m)) < 15.0


def test_one_ride_gives_separation_and_clock_only() -> None:
    (found,) = pairs(campaign(8, rides=1, clocks_s=(2.0, 0.0)))
    assert abs(found.clock_offset_s.value - 2.0) < 1.0
    assert np.isfinite(found.separation_median_m)
    assert np.isnan(found.sd_a.value)
    assert said(found.sd_a.reason) == (
        "one ride with two watches cannot part their errors from the rider's line; ride again"
    )
    assert said(found.sd_a.reason) in said(found.outcome)


def test_one_ride_of_three_receivers_is_one_ride() -> None:
    """The ride is the unit: however many are aboard, how rides differ is not known of one."""
    found = pairs(campaign(9, rides=1, sigmas_m=(2.0, 4.0, 2.0), taus=((60.0, 1.0),), length_m=8000.0))
    assert {one.sd_a.reason.code for one in found} == {"one_ride_two_receivers"}


def test_a_ride_that_only_one_recorded_takes_no_part() -> None:
    made = campaign(11, rides=5)
    (found,) = pairs(without(made, [9]))
    (shorter,) = pairs(without(made, [8, 9]), away=away_m(without(made, [9]))[:8])
    assert found.rides == 4
    assert found.sd_a == shorter.sd_a


def test_stretches_count_as_errors_and_as_separation_but_not_in_the_bias() -> None:
    made = campaign(12, taus=((60.0, 1.0),))
    offset, out = made.offset_m.copy(), made.in_stretch.copy()
    offset[1, 200:300] += 60.0
    out[1, 195:305] = True
    (plain,) = pairs(made)
    (found,) = pairs(replace(made, offset_m=offset, in_stretch=out))
    assert found.sd_b.value > 1.2 * plain.sd_b.value
    assert found.separation_p95_m > plain.separation_p95_m
    assert found.bias_m.value == pytest.approx(plain.bias_m.value, abs=0.3)


def test_two_parts_of_one_recording_complete_each_other() -> None:
    made = campaign(13, rides=3)
    offset = np.vstack([made.offset_m, made.offset_m[1]])
    crossing = np.vstack([made.crossing_s, made.crossing_s[1]])
    for array in (offset, crossing):
        array[1, 400:] = np.nan
        array[-1, :400] = np.nan
    split = replace(
        made, offset_m=offset, crossing_s=crossing, in_stretch=np.zeros(offset.shape, bool),
        receivers=(*made.receivers, "b"), rides=(*made.rides, "1"),
    )  # fmt: skip
    assert pairs(split)[0].sd_b == pairs(made)[0].sd_b


def test_without_times_everything_else_stands() -> None:
    made = campaign(14)
    (found,) = pairs(replace(made, crossing_s=np.full(made.crossing_s.shape, np.nan)))
    (timed,) = pairs(made)
    assert said(found.clock_offset_s.reason) == "no times to compare"
    assert found.sd_a == timed.sd_a
    across = np.abs(found.separation_across_m)
    assert found.separation_median_m == pytest.approx(float(np.nanmedian(across)))


def test_no_control_marks_in_sentences() -> None:
    made = campaign(15, rides=3)
    names = tuple("a\n<b>\u202e" + "x" * 90 if r == "a" else r for r in made.receivers)
    (found,) = pairs(replace(made, receivers=names))
    assert "\n" not in said(found.outcome)
    assert "\u202e" not in said(found.outcome)
    assert "x" * 50 not in said(found.outcome)


def test_long_names_are_cut_in_sentences_alone() -> None:
    made = campaign(15, rides=3)
    names = tuple(r * 60 for r in made.receivers)
    (found,) = pairs(replace(made, receivers=names))
    assert (found.a, found.b) == ("a" * 60, "b" * 60)
    for letter in "ab":
        assert re.search(rf" {letter * 39}…[ .]", said(found.outcome))


def test_the_same_input_gives_the_same_figures() -> None:
    one, other = pairs(campaign(16))[0], pairs(campaign(16))[0]
    assert (one.sd_a, one.difference, one.clock_offset_s, one.outcome) == (
        other.sd_a, other.difference, other.clock_offset_s, other.outcome,
    )  # fmt: skip


def test_no_trace_at_all() -> None:
    nothing = np.empty((0, 50))
    assert (
        pair_results(np.arange(50.0), nothing, nothing, nothing, nothing > 0, [], [], Options(), 100.0) == ()
    )
