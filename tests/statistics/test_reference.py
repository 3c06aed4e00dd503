"""Accuracy against a reference line."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from scipy import stats

from polylines import gauss_markov
from ridden_together import campaign
from thinly import first_quick
from trackspread.geometry.matching import Line
from trackspread.model import ReferenceResult
from trackspread.noise.effective import Along
from trackspread.options import Options
from trackspread.results.words.reasons import said
from trackspread.statistics.reference import (
    NoReference,
    accuracy_95,
    bias_and_rmse,
    reference_offset,
    reference_results,
)
from world.tails import BURSTS, driven

EDGES = np.arange(0.0, 5001.0, 100.0)


def straight(length_m: float = 1000.0) -> Line:
    station = np.arange(0.0, length_m + 1.0, 5.0)
    return Line(x=station, y=np.zeros(len(station)), station_m=station)


def test_nssda_of_equal_axes() -> None:
    """1.7308 RMSE_r where both axes are alike, else 2.4477 * 0.5 (RMSE_x + RMSE_y): FGDC-STD-007.3-1998."""
    rmse_r = math.hypot(2.0, 2.0)
    assert accuracy_95(2.0, 2.0, 30.0).value == pytest.approx(1.7308 * rmse_r, rel=1e-4)
    assert accuracy_95(2.0, 1.5, 30.0).value == pytest.approx(2.4477 * 0.5 * 3.5)
    assert accuracy_95(1.0, 1.0, 30.0).value == pytest.approx(math.sqrt(stats.chi2.ppf(0.95, 2)), abs=5e-4)


def test_interval_of_nssda_is_that_of_a_standard_deviation() -> None:
    """Chi-square at 95 % by scipy, on as many degrees of freedom as there are independent points."""
    found = accuracy_95(2.0, 2.0, 30.5)
    assert found.low == pytest.approx(found.value * math.sqrt(30.5 / stats.chi2.ppf(0.975, 30.5)))
    assert found.high == pytest.approx(found.value * math.sqrt(30.5 / stats.chi2.ppf(0.025, 30.5)))
    assert math.isfinite(accuracy_95(1.0, 0.6, 20.0).value)
    assert math.isnan(accuracy_95(0.0, 0.0, 20.0).value)


@pytest.mark.parametrize(
    ("along", "independent", "word"),
    [(2.0, 19.0, "20 independent"), (1.1, 30.0, "0.6 to 1"), (math.nan, 1000.0, "only those across")],
)
def test_nssda_is_refused_where_its_conditions_do_not_hold(
    along: float, independent: float, word: str
) -> None:
    found = accuracy_95(2.0, along, independent)
    assert math.isnan(found.value)
    assert word in said(found.reason)


def test_what_can_be_had_across_is_in_the_reason() -> None:
    """1.9600 RMSE, the standard's factor for one axis."""
    assert said(accuracy_95(2.0, math.nan, 40.4).reason) == (
        "NSSDA needs the errors along and across the way, and against a line only those across can be seen; "
        "95 % of those lie within 3.9 m if they are normal and unbiased (40 independent values)"
    )


def test_bias_and_rmse_by_hand() -> None:
    """Two receivers 2 m right and 1 m left of a reference that lies 0.5 m right of the centreline."""
    station = np.arange(0.0, 5000.0, 5.0)
    offset = np.stack([np.full(1000, 2.5), np.full(1000, -0.5), np.full(1000, 2.5)])
    found = reference_results(
        station, offset, np.zeros(offset.shape, bool), ("a", "b", "a"), np.full(1000, 0.5), EDGES, Options()
    )
    assert [r.receiver for r in found] == ["a", "b"]
    assert [r.bias_m.value for r in found] == pytest.approx([2.0, -1.0])
    assert [r.rmse_m.value for r in found] == pytest.approx([2.0, 1.0])
    assert found[0].segment_bias_m == pytest.approx(np.full(50, 2.0))
    assert found[1].segment_rmse_m == pytest.approx(np.full(50, 1.0))
    assert all("NSSDA" in said(r.accuracy_95_m.reason) for r in found)


@pytest.mark.slow
def test_rmse_intervals_cover() -> None:
    """At least 52 of 60 (the 1 % point of Binomial(60, 0.95) is 52)."""
    hits, widths, values = 0, [], []
    for seed in range(60):
        made = campaign(700 + seed, sigmas_m=(3.0,), common_m=0.0, length_m=5000.0)
        (found,) = reference_results(
            made.station_m, made.offset_m, made.in_stretch, made.receivers, np.zeros(1000), EDGES, Options()
        )
        hits += found.rmse_m.low <= 3.0 <= found.rmse_m.high
        widths.append(np.log(found.rmse_m.high / found.rmse_m.low))
        values.append(np.log(found.rmse_m.value))
    assert hits >= 52
    # Up to 2.4 times that of normal errors, as four rides cannot exclude bursts (docs/validation.md, Spread).
    assert 0.8 < np.mean(widths) / (2 * 1.96 * np.std(values)) < 2.5


@pytest.mark.parametrize("confidence", [0.99, 0.95, 0.8])
def test_the_rmse_of_many_alike_rides_has_nearly_the_interval_of_a_normal_sample(confidence: float) -> None:
    """1200 errors at stations 10,000 km apart: sqrt(b^2 + v), v by scipy's chi-square and b normal given v.

    The posterior of mean and variance of a normal sample (Box & Tiao 1973, section 2.4, from memory), drawn; a
    little wider, as rides may be unequal.
    """
    error = np.random.default_rng(8).normal(1.0, 2.0, (40, 30))
    _, rmse, worth = bias_and_rmse(error, Along.of(1e7 * np.arange(30.0)), confidence)
    variance = np.sum((error - error.mean()) ** 2) / stats.chi2.rvs(1199, size=400_000, random_state=1)
    level = error.mean() + np.sqrt(variance / 1200) * np.random.default_rng(2).standard_normal(400_000)
    low, high = np.quantile(np.sqrt(level**2 + variance), 0.5 + 0.5 * confidence * np.array([-1.0, 1.0]))
    assert worth == pytest.approx(1200.0, rel=0.01)
    assert rmse.low < low < high < rmse.high
    assert (rmse.high - rmse.low) / (high - low) < 1.5
    assert rmse.value == pytest.approx(np.sqrt(np.mean(error**2)))


def test_the_rmse_of_a_receiver_that_bursts_is_held() -> None:
    """Errors of 6.5 m an axis with bursts of six times the power's root, about a bias of 2 m, four rides."""
    time_s, held = 5.0 / 5.5 * np.arange(800.0), 0
    for seed in range(24):
        rng = np.random.default_rng([4, seed])
        wandering = [driven(rng, time_s, 36.0, BURSTS.power(rng, time_s))[:, 0] for _ in range(4)]
        _, rmse, _ = bias_and_rmse(2.0 + 6.5 * np.array(wandering), Along.of(5.0 * np.arange(800)), 0.95)
        held += rmse.low <= np.hypot(2.0, 6.5) <= rmse.high
    assert held >= 20


def results(
    offset: np.ndarray, out: np.ndarray | None = None, heading: np.ndarray | None = None
) -> ReferenceResult:
    """Results of one receiver against a reference on the centreline, stations every 5 m."""
    station = 5.0 * np.arange(offset.shape[1])
    out = np.zeros(offset.shape, bool) if out is None else out
    (found,) = reference_results(
        station, offset, out, ("a",) * len(offset), np.zeros(len(station)), np.arange(0.0, station[-1] - 50.0, 100.0),
        Options(), heading,
    )  # fmt: skip
    return found


def test_a_station_on_an_edge_begins_a_segment_and_the_last_takes_the_rest() -> None:
    """Offsets count the hundreds of metres; 125 stations end at 620 m, the last edge is at 500 m."""
    found = results(np.floor(5.0 * np.arange(125.0) / 100.0)[None])
    assert found.segment_bias_m == pytest.approx([0.0, 1.0, 2.0, 3.0, (20 * 4.0 + 20 * 5.0 + 5 * 6.0) / 45])


def test_stations_out_of_the_count_do_not_count() -> None:
    offset = np.random.default_rng(4).normal(1.0, 2.0, (2, 200))
    wild, out = offset.copy(), np.zeros(offset.shape, bool)
    wild[1, 50:80], out[1, 50:80] = 90.0, True
    offset[1, 50:80] = np.nan
    found = results(wild, out)
    assert found.rmse_m.value == pytest.approx(np.sqrt(np.nanmean(offset**2)))
    assert found.bias_m.value == pytest.approx(np.nanmean(offset))


def test_twenty_stations_give_a_figure_and_nineteen_do_not() -> None:
    offset = np.full((1, 100), np.nan)
    offset[0, :20] = np.random.default_rng(5).normal(1.0, 2.0, 20)
    assert np.isfinite(results(offset).rmse_m.value)
    offset[0, 19] = np.nan
    assert np.isnan(results(offset).rmse_m.value)
    assert said(results(offset).bias_m.reason) == "the reference line does not run beside these traces"


def test_a_bend_parts_what_points_one_way_on_the_earth() -> None:
    """Errors due east on a way out and back: alike on each leg, opposite in sign between them."""
    rng = np.random.default_rng(6)
    heading = np.where(np.arange(600) < 300, 0.0, np.pi)
    offset = rng.normal(0.0, 3.0, (4, 1)) * np.cos(heading) + rng.normal(0.0, 0.3, (4, 600))
    assert results(offset, heading=heading).bias_m.high < 0.7 * results(offset).bias_m.high


def test_where_the_reference_does_not_run() -> None:
    station = np.arange(0.0, 5000.0, 5.0)
    beside = np.where(station < 1000.0, 0.0, np.nan)
    found = reference_results(
        station, np.ones((2, 1000)), np.zeros((2, 1000), bool), ("a", "a"), beside, EDGES, Options()
    )[0]
    assert found.rmse_m.value == pytest.approx(1.0)
    assert np.isfinite(found.segment_bias_m[:10]).all()
    assert np.isnan(found.segment_bias_m[10:]).all()
    found = reference_results(
        station,
        np.ones((2, 1000)),
        np.zeros((2, 1000), bool),
        ("a", ""),
        np.full(1000, np.nan),
        EDGES,
        Options(),
    )
    assert len(found) == 1
    assert "does not run beside" in said(found[0].rmse_m.reason)


@pytest.mark.parametrize("way", [1, -1])
def test_offset_of_a_drawn_line(way: int) -> None:
    """A line of two vertices 3 m to the right (south of an eastward way), drawn either way."""
    x, y = np.array([-50.0, 1050.0])[::way], np.array([-3.0, -3.0])
    found = reference_offset(straight(), [(x, y)], Options())
    assert found == pytest.approx(3.0, abs=1e-6)


def test_the_nearer_piece_counts_and_far_ones_do_not() -> None:
    pieces = [
        (np.array([3.0]), np.array([3.0])),
        (np.array([0.0, 500.0]), np.array([4.0, 4.0])),
        (np.array([0.0, 500.0]), np.array([-1.0, -1.0])),
        (np.array([500.0, 1000.0]), np.array([500.0, 500.0])),
        (np.array([3.0]), np.array([3.0])),
        (np.array([700.0, 700.0]), np.array([0.0, 0.0])),
    ]
    found = reference_offset(straight(), pieces, Options())
    assert found[2:98] == pytest.approx(1.0)
    assert np.isnan(found[110:]).all()
    assert np.isnan(reference_offset(straight(), [], Options())).all()


@pytest.mark.parametrize("way", [1, -1])
def test_a_drawn_line_that_winds_is_followed_either_way(way: int) -> None:
    """A sine of 3 m about the line: positive right, so its negative; chords of 5 m cut 7 cm off a crest."""
    x = np.arange(-50.0, 1051.0)[::way]
    found = reference_offset(straight(), [(x, 3.0 * np.sin(x / 12.0))], Options())
    assert found == pytest.approx(-3.0 * np.sin(straight().station_m / 12.0), abs=0.1)


def test_a_stub_shorter_than_a_station_is_no_line() -> None:
    stub = np.array([498.0, 502.0]), np.zeros(2)
    longer = np.array([492.0, 508.0]), np.zeros(2)
    assert np.isnan(reference_offset(straight(), [stub], Options())).all()
    assert np.isfinite(reference_offset(straight(), [longer], Options())).any()


@pytest.mark.parametrize("bias_m", first_quick([0.0, 4.0]))
def test_bias_and_rmse_hold_beside_a_wandering_over_kilometres(bias_m: float) -> None:
    """Four rides of 2 km, wandering of 1 m over 1.5 km: the truth is b and sqrt(b^2 + 1)."""
    rng, inside = np.random.default_rng(41), []
    along = Along.of(np.arange(200) * 10.0, None)
    for _ in range(40):
        error = bias_m + gauss_markov(rng, 4, 200, 10.0, 1500.0)
        bias, rmse, _ = bias_and_rmse(error, along, 0.95)
        assert rmse.low <= rmse.value <= rmse.high
        inside.append((bias.low <= bias_m <= bias.high, rmse.low <= np.hypot(bias_m, 1.0) <= rmse.high))
    assert np.mean(inside, axis=0).min() > 0.87


def test_of_a_line_around_the_globe_only_what_is_near_counts() -> None:
    """It once took over 100 s."""
    x = np.linspace(-2e7, 2e7, 101)
    begun = time.process_time()
    found = reference_offset(straight(), [(x, np.full(101, -4.0))], Options())
    assert time.process_time() - begun < 2.0
    assert found == pytest.approx(np.full(len(found), 4.0))


def test_a_zigzag_is_no_line_along_a_route() -> None:
    """2,000 legs across the route, 200 km each: it once took 57 s."""
    x, y = np.linspace(0.0, 1000.0, 2000), np.where(np.arange(2000) % 2, 1e5, -1e5)
    begun = time.process_time()
    with pytest.raises(NoReference) as refused:
        reference_offset(straight(), [(x, y)], Options())
    assert "around this route of 1.0 km; a file with one line along" in said(refused.value.reason)
    assert time.process_time() - begun < 2.0


def test_many_short_pieces_are_taken_together() -> None:
    pieces = [(np.array([a, a + 50.0]), np.full(2, 3.0)) for a in np.arange(0.0, 1000.0, 50.0)]
    pieces += [(x + 1e5, y) for x, y in pieces] * 40
    begun = time.process_time()
    found = reference_offset(straight(), pieces, Options())
    assert time.process_time() - begun < 4.0
    assert np.nanmax(np.abs(found + 3.0)) < 1e-6
    assert np.isfinite(found).mean() > 0.9
